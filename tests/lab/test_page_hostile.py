"""A page of another origin in the user's own browser: it reads nothing, changes nothing and opens no path.

Source: Fetch standard (WHATWG), "cross-origin resource policy" and "HTTP-network-or-cache fetch" (from
memory): a page may send simple requests to any host, so the server itself must refuse them.
"""

from __future__ import annotations

import http.server
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

from lab.browsing import Served
from page.browser import PATIENCE_MS, rest
from playwright.sync_api import Browser, Page

TRIES = """async (lab) => {
  const told = {};
  const attempt = async (name, path, options = {}) => {
    try {
      const answer = await fetch(lab + path, options);
      const text = answer.type === "opaque" ? "" : await answer.text();
      told[name] = `${answer.type} ${answer.status} ${text}`;
    } catch (error) { told[name] = "failed"; }
  };
  await attempt("page", "");
  await attempt("start", "api/start");
  await attempt("opaque page", "", { mode: "no-cors" });
  const asked = { frame: "moss_tower", chain: "interlace" };
  const post = { method: "POST", mode: "no-cors", body: JSON.stringify(asked) };
  await attempt("export", "api/export", post);
  await attempt("upload", "api/frames?name=evil.png", { ...post, body: "x" });
  await attempt("token", "api/export", { ...post, mode: "cors", headers: { "X-Lab-Token": "guess" } });
  await attempt("path", "results/1/..%2f..%2fnoise.png");
  await attempt("file", "api/frames/..%2f..%2fetc%2fpasswd/picture");
  const loads = (tag, path) => new Promise((done) => {
    const made = document.createElement(tag);
    made.onload = () => done("loaded");
    made.onerror = () => done("failed");
    made.src = lab + path;
    document.body.append(made);
    setTimeout(() => done("silent"), 60000);
  });
  told.image = await loads("img", "api/frames/moss_tower/picture");
  told.script = await loads("script", "static/lab.js");
  return told;
}"""


class Elsewhere(http.server.BaseHTTPRequestHandler):
    """A server that gives one empty page."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>elsewhere</title><body></body>")

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    """The address of a page of another origin on this machine, which is the nearest that one can come."""
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}/"
        server.shutdown()


@pytest.fixture
def hostile(chromium: Callable[[float], Browser], elsewhere: str) -> Iterator[Page]:
    context = chromium(1).new_context()
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.goto(elsewhere)
    yield page
    context.close()


def test_a_page_from_elsewhere_gets_nothing(hostile: Page, lab: Served, lab_folder: Path) -> None:
    before = sorted(path.name for path in lab_folder.rglob("*"))
    told = hostile.evaluate(TRIES, lab.address)
    assert told.pop("image") == told.pop("script") == "failed"
    assert all(said == "failed" or said == "opaque 0 " for said in told.values()), told
    assert sorted(path.name for path in lab_folder.rglob("*")) == before


def test_it_cannot_be_framed(hostile: Page, lab: Served) -> None:
    """A page that lays the lab under its own buttons would let the user press what they do not see."""
    hostile.evaluate(
        "(lab) => { const f = document.createElement('iframe'); f.src = lab; document.body.append(f); }",
        lab.address,
    )
    rest(hostile, 1500)
    frame = hostile.frames[-1]
    assert frame.locator("#chain-text").count() == 0


def test_the_same_requests_work_from_the_page_itself(open_lab: Callable[..., Page], lab: Served) -> None:
    """So that the refusals above are of where they come from, and of nothing else."""
    page = open_lab(lab, messages=True)
    told = page.evaluate(
        """async (lab) => {
          const token = document.querySelector("meta[name=lab-token]").content;
          const start = await (await fetch(lab + "api/start")).json();
          const body = JSON.stringify({ text: "interlace" });
          const ask = (headers) => fetch(lab + "api/chain", { method: "POST", headers, body });
          const good = await (await ask({ "X-Lab-Token": token })).json();
          return [start.frames.length > 0, good.ok, (await ask({})).status];
        }""",
        lab.address,
    )
    assert told == [True, True, 403]


def test_two_tabs_do_not_stop_each_other(open_lab: Callable[..., Page], lab: Served) -> None:
    """Each asks for what it needs at the same time; both get it whole."""
    pages = [open_lab(lab) for _ in range(2)]
    ask = """async (seq) => {
      const token = document.querySelector("meta[name=lab-token]").content;
      const { frames } = await (await fetch("api/start")).json();
      const frame = frames.find(({ name }) => name === "noise.png").id;
      const body = { tab: `own-${seq}`, seq, frame, chain: "line-drop lines=40", want: ["glass"] };
      const options = { method: "POST", headers: { "X-Lab-Token": token }, body: JSON.stringify(body) };
      const got = new Uint8Array(await (await fetch("api/explore", options)).arrayBuffer());
      return new TextDecoder().decode(got).includes('"kind": "done"'); }"""
    assert [page.evaluate(ask, number) for number, page in enumerate(pages, start=1)] == [True, True]
