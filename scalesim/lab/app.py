"""The addresses of the lab. Each reads what it is given, does one thing of another file, and answers.

Computations run in threads, so that one that takes long never holds up another, nor the page.
"""

from __future__ import annotations

import asyncio
import json
import queue
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from importlib import resources
from typing import Any

from starlette.applications import Starlette
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from scalesim.core.limits import DOCUMENT_MEGABYTES
from scalesim.errors import ParameterError, ScalesimError
from scalesim.lab.asked import body, name_of, stored, stream, table
from scalesim.lab.bench import Bench
from scalesim.lab.guard import Guard
from scalesim.lab.packaged import KINDS, modules, packaged
from scalesim.lab.records import bmp, failed

FILE_MEGABYTES = DOCUMENT_MEGABYTES
"""Of an operator's file."""

Handler = Callable[[Request], Awaitable[Response]]


def make_app(bench: Bench, port: int) -> Guard:
    """Return the application for a port, guarded."""
    found = _Handlers(bench)
    routes = [
        Route("/", found.page),
        Route("/static/{name}", found.static),
        Route("/static/viewer/{name}", found.viewer),
        Route("/results/{number}/{name:path}", found.result),
        Route("/api/start", found.start),
        Route("/api/events", found.events),
        Route("/api/frames", found.frames, methods=["GET"]),
        Route("/api/frames", found.upload, methods=["POST"]),
        Route("/api/frames/{id}", found.frame),
        Route("/api/frames/{id}/picture", found.picture),
        Route("/api/files", found.upload_file, methods=["POST"]),
        Route("/api/readings/{kind}", found.upload_reading, methods=["POST"]),
        Route("/api/chain", found.chain, methods=["POST"]),
        Route("/api/explore", found.explore, methods=["POST"]),
        Route("/api/tune", found.tune, methods=["POST"]),
        Route("/api/displays", found.display, methods=["POST"]),
        Route("/api/export", found.export, methods=["POST"]),
        Route("/api/compare", found.compare, methods=["POST"]),
        Route("/api/jobs/{name}", found.job, methods=["POST"]),
        Route("/api/lab", found.save_lab, methods=["POST"]),
        Route("/api/lab/open", found.open_lab, methods=["POST"]),
    ]
    app = Starlette(routes=routes, exception_handlers={ScalesimError: _refused})
    return Guard(app, bench.token, port)


async def _refused(_request: Request, error: Exception) -> Response:
    return JSONResponse(failed(error), status_code=400)


class _Handlers:
    """One method an address."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    # what the page is made of

    async def page(self, _request: Request) -> Response:
        folder = resources.files("scalesim")
        places = [(folder / "lab", "/static/"), (folder / "page", "/static/viewer/")]
        page = (folder / "lab" / "templates" / "lab.html").read_text(encoding="utf-8")
        scripts = [f"{address}{name}" for at, address in places for name in modules(at / "static")]
        early = "\n".join(f'<link rel="modulepreload" href="{each}">' for each in scripts)
        page = page.replace("{{ token }}", self.bench.token).replace("{{ modules }}", early)
        return Response(page, media_type="text/html", headers={"cache-control": "no-store"})

    async def static(self, request: Request) -> Response:
        return packaged("scalesim.lab", request.path_params["name"])

    async def viewer(self, request: Request) -> Response:
        return packaged("scalesim.page", request.path_params["name"])

    async def result(self, request: Request) -> Response:
        path = self.bench.answers.file(request.path_params["number"], request.path_params["name"])
        if path is None:
            return JSONResponse({"error": "there is no such file", "place": None}, status_code=404)
        kind = KINDS.get(path.suffix.removeprefix(".").lower())
        return FileResponse(path, media_type=kind, headers={"cache-control": "no-store"})

    async def start(self, _request: Request) -> Response:
        told = await run_in_threadpool(self.bench.start)
        return JSONResponse(told, background=BackgroundTask(self.bench.warm))

    async def events(self, request: Request) -> Response:
        return StreamingResponse(self._events(request), media_type="text/event-stream")

    async def _events(self, request: Request) -> AsyncIterator[str]:
        page = self.bench.listen()
        quiet = 0.0
        try:
            yield _event({"kind": "alive"})
            while not (self.bench.ending.is_set() or await request.is_disconnected()):
                try:
                    yield _event(page.get_nowait())
                except queue.Empty:
                    await asyncio.sleep(0.1)
                    quiet += 0.1
                    if quiet > 5:
                        quiet = 0.0
                        yield _event({"kind": "alive"})
        finally:
            self.bench.leave(page)

    # frames

    async def frames(self, _request: Request) -> Response:
        frames = self.bench.frames
        return JSONResponse(
            await run_in_threadpool(lambda: [frames.described(each) for each in frames.all()])
        )

    async def upload(self, request: Request) -> Response:
        from scalesim.lab.frames import CLIP_MEGABYTES

        frames = self.bench.frames
        arrived = await stored(request, frames.store, CLIP_MEGABYTES * 10**6)
        known = await run_in_threadpool(frames.add_stored, name_of(request), arrived)
        return JSONResponse(await run_in_threadpool(frames.described, known))

    async def frame(self, request: Request) -> Response:
        frames = self.bench.frames
        known = frames.known(request.path_params["id"])
        return JSONResponse(await run_in_threadpool(frames.described, known))

    async def picture(self, request: Request) -> Response:
        from scalesim.core.codes import to_codes

        def made() -> bytes:
            frame = self.bench.frames.still(request.path_params["id"]).frame
            assert frame is not None
            return bmp(to_codes(frame))

        return Response(await run_in_threadpool(made), media_type="image/bmp")

    async def upload_reading(self, request: Request) -> Response:
        from scalesim.lab.frames import CLIP_MEGABYTES

        frames = self.bench.frames
        arrived = await stored(request, frames.store, CLIP_MEGABYTES * 10**6)
        kind = request.path_params["kind"]
        told = await run_in_threadpool(frames.readings.add, kind, name_of(request), arrived)
        return JSONResponse(told)

    async def upload_file(self, request: Request) -> Response:
        content = await body(request, FILE_MEGABYTES * 10**6, "file")
        label = await run_in_threadpool(self.bench.add_operator, name_of(request), content)
        return JSONResponse({"name": label})

    # chains

    async def chain(self, request: Request) -> Response:
        from scalesim.lab.editor import written

        given = await table(request)
        try:
            found = written(given)
            told = found.to_dict()
            if given.get("frame") and found.chain is not None:
                told["rasters"] = await run_in_threadpool(self._rasters, given)
        except ScalesimError as error:
            return JSONResponse({"ok": False, **failed(error)})
        return JSONResponse(told)

    def _rasters(self, given: Mapping[str, Any]) -> list[str]:
        clip = self.bench.frames.still(given["frame"])
        return [raster.describe() for raster in self.bench.chain_of(given).resolve(clip.raster).rasters]

    async def display(self, request: Request) -> Response:
        from scalesim.lab import forms

        given = await table(request)
        return JSONResponse(forms.tube("", forms.display_of({"toml": given.get("toml")})))

    # pictures and numbers

    async def explore(self, request: Request) -> Response:
        from scalesim.lab import forms
        from scalesim.lab.explore import Request as Asked
        from scalesim.lab.explore import checked_want, explored

        given = await table(request)
        stale = self.bench.newest.begin("explore", given.get("tab"), given.get("seq"))
        against = given.get("against")

        def made() -> Asked:
            return Asked(
                clip=self.bench.frames.still(given.get("frame", "")),
                chain=self.bench.chain_of(given.get("chain")),
                display=forms.display_of(given.get("display")),
                want=checked_want(given.get("want", [])),
                numbers=given.get("numbers") is True,
                against=None if against is None else self.bench.chain_of(against),
            )

        return stream(explored(await run_in_threadpool(made), stale))

    async def tune(self, request: Request) -> Response:
        from scalesim.lab.curve import curve

        given = await table(request)
        stale = self.bench.newest.begin("tune", given.get("tab"), given.get("seq"))
        return stream(curve(self.bench, given, stale))

    # whole answers

    async def job(self, request: Request) -> Response:
        from scalesim.errors import nearest
        from scalesim.jobs.catalogue import jobs
        from scalesim.lab.exports import charted, identified
        from scalesim.lab.tasks import run_job, told_as_done

        given, name, bench = await table(request), request.path_params["name"], self.bench
        job = jobs().get(name)
        if job is None:
            raise ParameterError(f"job: {nearest(name[:60], jobs())}")
        by_hand = {"identify": identified, "chart": charted}.get(name)
        if by_hand is not None:
            return stream(told_as_done(lambda advance: by_hand(bench, given, advance), bench.ending))
        return stream(
            told_as_done(
                lambda advance: run_job(job, given, bench.frames, bench.chain_of, bench.answers, advance),
                bench.ending,
            )
        )

    async def export(self, request: Request) -> Response:
        from scalesim.lab.exports import exported
        from scalesim.lab.tasks import told_as_done

        given = await table(request)
        return stream(told_as_done(lambda advance: exported(self.bench, given, advance), self.bench.ending))

    async def compare(self, request: Request) -> Response:
        from scalesim.lab.exports import compared
        from scalesim.lab.tasks import told_as_done

        given = await table(request)
        return stream(told_as_done(lambda advance: compared(self.bench, given, advance), self.bench.ending))

    async def save_lab(self, request: Request) -> Response:
        from scalesim.lab.labfile import lab_text

        return JSONResponse({"toml": lab_text(await table(request))})

    async def open_lab(self, request: Request) -> Response:
        from scalesim.lab.labfile import opened

        text = (await table(request)).get("toml")
        if not isinstance(text, str):
            raise ParameterError("toml is missing; give the text of a lab file")
        return JSONResponse(opened(text))


def _event(message: Mapping[str, Any]) -> str:
    return f"data: {json.dumps(message, ensure_ascii=False)}\n\n"
