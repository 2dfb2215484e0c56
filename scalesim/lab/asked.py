"""What a request brings: tables of JSON, and files; what is too large is let go at once."""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from starlette.concurrency import iterate_in_threadpool, run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response, StreamingResponse

from scalesim.errors import ParameterError

MOST_JSON = 1_000_000
STREAM = "application/octet-stream"


async def table(request: Request) -> Mapping[str, Any]:
    """Return a request's JSON table; raise ParameterError for anything else."""
    try:
        found = json.loads(await body(request, MOST_JSON, "request"))
    except (ValueError, RecursionError):
        raise ParameterError("the request is no JSON") from None
    if not isinstance(found, Mapping):
        raise ParameterError("the request is no table")
    return found


async def body(request: Request, most: int, what: str) -> bytes:
    """Return a request's content, let go as soon as it is too long."""
    parts, size = [], 0
    try:
        async for part in request.stream():
            size += len(part)
            if size > most:
                raise ParameterError(f"this {what} is over {most / 1e6:g} MB, more than the lab takes")
            parts.append(part)
    except ClientDisconnect:
        raise ParameterError(f"this {what} was cut off") from None
    return b"".join(parts)


async def stored(request: Request, store: Path, most: int) -> Path:
    """Return the file in a folder that a request's content was written to; none stays of what is too long."""
    path = store / f"upload-{secrets.token_hex(8)}"
    size = 0
    try:
        with path.open("wb") as file:
            async for part in request.stream():
                size += len(part)
                if size > most:
                    raise ParameterError(f"this file is over {most / 1e6:g} MB, more than the lab takes")
                await run_in_threadpool(file.write, part)
    except (ClientDisconnect, ParameterError, OSError) as error:
        path.unlink(missing_ok=True)
        if isinstance(error, ParameterError):
            raise
        fault = "was cut off" if isinstance(error, ClientDisconnect) else "finds no room on the disk"
        raise ParameterError(f"this file {fault}") from None
    return path


def name_of(request: Request) -> str:
    """Return the name that an upload is given by."""
    return request.query_params.get("name", "")[:200]


def stream(records: Iterator[bytes]) -> Response:
    return StreamingResponse(
        iterate_in_threadpool(records), media_type=STREAM, headers={"cache-control": "no-store"}
    )
