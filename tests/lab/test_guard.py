"""Whoever is not the served page gets nothing: other names of the host, other origins, no token, any path.

Source: OWASP, "Cross-Site Request Forgery Prevention" and "DNS rebinding" (from memory): check Host, Origin
and a token; RFC 6454 for what an origin is.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import served
from starlette.testclient import TestClient

from scalesim.lab.app import make_app
from scalesim.lab.bench import Bench
from scalesim.lab.guard import TOKEN


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "evil.example"},
        {"Host": f"evil.example:{served.PORT}"},
        {"Host": "127.0.0.1:1"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": f"https://127.0.0.1:{served.PORT}"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
@pytest.mark.parametrize("path", ["/", "/api/start", "/api/frames/moss_tower/picture", "/static/lab.css"])
def test_reading_from_elsewhere_is_refused(bench: Bench, headers: dict[str, str], path: str) -> None:
    with served.client_of(bench, **headers) as client:
        done = client.get(path)
    assert done.status_code == 403 and bench.token not in done.text


@pytest.mark.parametrize("token", [None, "", "x", "é"])
def test_asking_without_the_token_is_refused(bench: Bench, token: str | None) -> None:
    with TestClient(make_app(bench, served.PORT), base_url=served.HOME) as client:
        headers = {} if token is None else {TOKEN: token.encode()}
        for path in (
            "/api/frames?name=a.png",
            "/api/explore",
            "/api/chain",
            "/api/jobs/fields",
            "/api/export",
        ):
            assert client.post(path, content=b"{}", headers=headers).status_code == 403


def test_a_form_of_another_page_is_refused(bench: Bench) -> None:
    """A form can be sent without asking; it has an origin and no token."""
    with TestClient(make_app(bench, served.PORT), base_url=served.HOME) as client:
        done = client.post("/api/export", data={"a": "b"}, headers={"Origin": "http://evil.example"})
    assert done.status_code == 403


def test_two_hosts_in_one_request_are_refused(bench: Bench) -> None:
    headers = [("Host", f"127.0.0.1:{served.PORT}"), ("Host", "evil.example")]
    with TestClient(make_app(bench, served.PORT), base_url=served.HOME) as client:
        assert client.get("/", headers=headers).status_code == 403


def test_the_page_itself_is_served(client: TestClient, bench: Bench) -> None:
    done = client.get("/")
    assert done.status_code == 200 and bench.token in done.text
    policy = done.headers["content-security-policy"]
    assert "default-src 'self'" in policy and "http" not in policy
    assert "access-control-allow-origin" not in done.headers


@pytest.mark.parametrize(
    "path",
    [
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/static//etc/passwd",
        "/results/1/result.json",
        "/results/1/..%2f..%2fsecret",
        "/api/frames/..%2fsecret/picture",
        "/api/frames/%2fetc%2fpasswd/picture",
    ],
)
def test_paths_of_the_pages_own_are_not_opened(client: TestClient, tmp_path: Path, path: str) -> None:
    (tmp_path / "secret").write_text("secret", encoding="utf-8")
    done = client.get(path)
    assert done.status_code in (400, 404) and "secret" not in done.text.replace("..%2fsecret", "")


def test_a_link_out_of_an_answer_is_not_followed(client: TestClient, bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("hidden", encoding="utf-8")
    (tmp_path / "answer").mkdir()
    (tmp_path / "answer" / "plain.txt").write_text("shown", encoding="utf-8")
    try:
        (tmp_path / "answer" / "link").symlink_to(tmp_path / "secret")
    except OSError:
        pytest.skip("no links here")
    number = bench.answers.add(tmp_path / "answer")
    assert client.get(f"/results/{number}/plain.txt").text == "shown"
    assert client.get(f"/results/{number}/link").status_code == 404
    assert client.get(f"/results/{number}/../secret").status_code == 404


def test_pages_of_answers_are_in_an_origin_of_their_own(
    client: TestClient, bench: Bench, tmp_path: Path
) -> None:
    (tmp_path / "index.html").write_text("<script>1</script>", encoding="utf-8")
    number = bench.answers.add(tmp_path)
    policy = client.get(f"/results/{number}/index.html").headers["content-security-policy"]
    assert "sandbox" in policy and "allow-same-origin" not in policy and "connect-src 'none'" in policy


@pytest.mark.parametrize(
    ("name", "kind"), [("index.html", "text/html"), ("a.js", "text/javascript"), ("a.PNG", "image/png")]
)
def test_kinds_are_not_asked_of_the_system(
    client: TestClient, bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, kind: str
) -> None:
    """Python's `mimetypes` reads the registry of Windows, where scripts may be plain text: none runs."""
    monkeypatch.setattr("starlette.responses.guess_type", lambda *_: ("text/plain", None))
    (tmp_path / "answer").mkdir()
    (tmp_path / "answer" / name).write_bytes(b"shown")
    number = bench.answers.add(tmp_path / "answer")
    assert client.get(f"/results/{number}/{name}").headers["content-type"].split(";")[0] == kind


@pytest.mark.parametrize("name", ["//server/share/x.png", r"\\server\share\x.png", "C:/x.png", "C:x.png"])
def test_other_places_of_windows_are_not_even_looked_for(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """To look for a share is to sign on to its server."""
    number = bench.answers.add(tmp_path)
    monkeypatch.setattr(Path, "resolve", lambda *_: pytest.fail("it was looked for"))
    assert bench.answers.file(number, name) is None
