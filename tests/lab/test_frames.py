"""What may be looked at: uploads by content, limits, and captures that arrive in a watched folder."""

from __future__ import annotations

import os
import time
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import served
from starlette.testclient import TestClient

from scalesim.core.codes import to_codes
from scalesim.core.operator_file import FieldRows, OperatorFile
from scalesim.core.raster import PROGRESSIVE
from scalesim.demo.bench import Scene
from scalesim.io.clips.write import write_clip
from scalesim.lab import frames as frames_module
from scalesim.lab.begin import bench_of
from scalesim.lab.bench import Bench
from scalesim.lab.frames import Known
from scalesim.lab.watch import TRIES, Watch


def test_an_upload_is_the_same_frame_each_time(client: TestClient, tmp_path: Path) -> None:
    content = served.picture_file(tmp_path, "bb.png").read_bytes()
    first, second = (client.post("/api/frames?name=b.png", content=content).json() for _ in range(2))
    assert first == second and first["kind"] == "upload" and (first["lines"], first["samples"]) == (48, 64)
    sent = served.dots(client.get(f"/api/frames/{first['id']}/picture").content)
    assert np.array_equal(sent, served.dots(content))
    assert first in client.get("/api/frames").json()


def test_drawn_frames_are_told_without_being_drawn(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scalesim.demo.bench.Scene.draw", lambda self: pytest.fail("it was drawn"))
    start = client.get("/api/start").json()
    drawn = [each for each in start["frames"] if each["kind"] == "demo"]
    assert len(drawn) == 7 and all(each["lines"] >= 480 for each in drawn)


def test_a_frame_is_drawn_once_for_all_that_ask_at_once(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page asks for a chosen frame's picture, raster and size together, and comes back to it later."""
    drawn = []
    known = next(each for each in bench.frames.all() if each.kind == "demo")

    def draw(scene: Scene) -> np.ndarray:
        drawn.append(scene.key)
        time.sleep(0.2)
        return np.zeros((1080, 1920, 3), np.uint8)

    monkeypatch.setattr("scalesim.demo.bench.Scene.draw", draw)
    frames_module._codes.cache_clear()
    try:
        with ThreadPoolExecutor(4) as pool:
            found = list(pool.map(bench.frames.clip, [known.id] * 4))
        assert all(each is found[0] for each in found)
        bench.frames._held.clear()  # others came meanwhile
        bench.frames.clip(f"{known.id}@1080p50")
        assert drawn == [known.id]
    finally:
        frames_module._codes.cache_clear()


def test_what_is_told_of_a_drawn_frame_is_true(bench: Bench) -> None:
    known = bench.frames.known("ninth_lock_menu")
    before = bench.frames.described(known)
    bench.frames.clip(known.id)
    assert bench.frames.described(known) == before


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.png", b"", "a.png"),
        ("a.png", b"\x89PNG\r\n\x1a\n" + bytes(100), "a.png"),
        ("../../a.png", b"text", "a.png"),
        ("a.mkv", b"\x1aE\xdf\xa3" + bytes(50), "a.mkv"),
        ("", b"GIF89a", "upload"),
        ("é" * 300 + ".png", b"no picture", "é"),
        ("a\x00b.png", b"no picture", "b.png"),
    ],
)
def test_what_is_no_picture_is_refused_by_its_own_name(
    client: TestClient, tmp_path: Path, name: str, content: bytes, words: str
) -> None:
    done = client.post("/api/frames", params={"name": name}, content=content)
    said = done.json()["error"]
    assert done.status_code == 400 and words in said and str(tmp_path) not in said and "store" not in said
    assert not list((tmp_path / "store").iterdir())  # nothing is kept of it


def test_too_large_an_upload_is_let_go(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(frames_module, "UPLOAD_MEGABYTES", 0.001)
    done = client.post("/api/frames?name=a.png", content=bytes(5000))
    assert done.status_code == 400 and "over 0.001 MB" in done.json()["error"]


def test_uploads_are_limited_in_number(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(frames_module, "MOST_UPLOADS", 2)
    contents = [served.picture_file(tmp_path, f"{'x' * n}.png").read_bytes() for n in (2, 3, 4)]
    done = [client.post("/api/frames?name=a.png", content=content) for content in contents]
    assert [each.status_code for each in done] == [200, 200, 400]
    assert client.post("/api/frames?name=a.png", content=contents[0]).status_code == 200  # it is there


def test_frames_are_read_in_the_mode_that_was_named(tmp_path: Path) -> None:
    (tmp_path / "store").mkdir()
    path = served.picture_file(tmp_path, "woven.png", 480, 64)
    bench = bench_of([path], {}, tmp_path / "store", None, "480i")
    assert bench.frames.clip(bench.first).raster.scan == "interlaced"
    assert bench.frames.described(bench.frames.known(bench.first))["mode"] == "480i59.94"


def test_a_frame_is_read_in_another_mode_by_its_id(client: TestClient, tmp_path: Path) -> None:
    content = served.picture_file(tmp_path, "w.png", 480, 720).read_bytes()
    first = client.post("/api/frames?name=w.png", content=content).json()
    assert first["mode"] == "480p59.94" and "480i59.94" in first["modes"]
    other = client.get(f"/api/frames/{first['id']}@480i").json()
    assert (other["mode"], other["name"], other["id"]) == ("480i59.94", "w.png", f"{first['id']}@480i")
    found = served.asked(
        client, "/api/explore", tab="t", seq=1, frame=other["id"], chain="line-drop lines=240"
    )
    facts = next(told for told, _ in found if told["kind"] == "facts")
    assert facts["fields"] and len(facts["fields"]) == 2
    for mode, words in (("480j", "is not known"), ("720p", "480")):
        refused = client.get(f"/api/frames/{first['id']}@{mode}")
        assert refused.status_code == 400 and words in refused.json()["error"]


def test_the_same_content_under_another_name_is_its_own(client: TestClient, tmp_path: Path) -> None:
    content = served.picture_file(tmp_path, "bb.png").read_bytes()
    one, two, again = (
        client.post(f"/api/frames?name={name}.png", content=content).json() for name in ("b", "c", "c")
    )
    assert one["name"] == "b.png" and two["name"] == "c.png" and one["id"] != two["id"] and again == two


def test_a_clip_is_for_jobs_alone(client: TestClient, tmp_path: Path) -> None:
    pictures = [np.full((240, 64, 3), at, np.uint8) for at in (0, 100, 200)]
    write_clip(tmp_path / "a.mkv", pictures, Fraction(60))
    told = client.post("/api/frames?name=a.mkv", content=(tmp_path / "a.mkv").read_bytes()).json()
    assert told["still"] is False and told["lines"] == 240
    refused = client.get(f"/api/frames/{told['id']}/picture")
    assert refused.status_code == 400 and "is a clip" in refused.json()["error"]
    found = served.asked(client, "/api/export", frame=told["id"], chain="line-drop lines=24")
    assert "is a clip" in found[-1][0]["error"]


def test_operator_files_are_given_on_the_page(client: TestClient, bench: Bench) -> None:
    rows = FieldRows(PROGRESSIVE[0], 0.0, tuple((at, (1.0,)) for at in range(0, 48, 2)))
    operator = OperatorFile("a box", 48, 1, "code", 2.0, (rows,)).to_json()
    sent = [client.post("/api/files?name=my box.json", content=operator) for _ in range(2)]
    assert [each.json() for each in sent] == [{"name": "my-box.json"}] * 2
    assert client.get("/api/start").json()["files"] == ["my-box.json"]
    found = served.asked(
        client, "/api/explore", tab="t", seq=1, frame=bench.first, chain="measured file=my-box.json"
    )
    source = to_codes(bench.frames.clip(bench.first).frame)
    assert np.array_equal(served.dots(found[0][1]), source[::2])
    for content in (b"", b"{}", b"\xff\xfe", b"[" * 5000):
        refused = client.post("/api/files?name=x.json", content=content)
        assert refused.status_code == 400 and "x.json" in refused.json()["error"]


def test_few_frames_are_kept_decoded(bench: Bench, tmp_path: Path) -> None:
    ids = [
        bench.frames.add_upload("a.png", served.picture_file(tmp_path, f"{'y' * n}.png").read_bytes()).id
        for n in range(1, 12)
    ]
    assert len(bench.frames._held) == frames_module.MOST_HELD
    assert bench.frames.clip(ids[0]).frame is not None  # read again


# arrivals


class Seen:
    """A watched folder, looked at by hand."""

    def __init__(self, bench: Bench, folder: Path) -> None:
        folder.mkdir()
        served.picture_file(folder, "before.png")
        self.arrived: list[Known] = []
        self.trouble: list[str] = []
        self.watch = Watch(folder, bench.frames, self.arrived.append, self.trouble.append)
        self.folder = folder

    def look(self, times: int = 2) -> None:
        for _ in range(times):
            self.watch.look()


@pytest.fixture
def seen(bench: Bench, tmp_path: Path) -> Seen:
    return Seen(bench, tmp_path / "captures")


def test_a_new_picture_is_told_once(seen: Seen, bench: Bench) -> None:
    seen.look()
    assert not seen.arrived  # what lay there before is not new
    path = served.picture_file(seen.folder, "shot.png")
    seen.look(5)
    assert [each.name for each in seen.arrived] == ["shot.png"] and seen.arrived[0].kind == "watched"
    frame = bench.frames.clip(seen.arrived[0].id).frame
    assert frame is not None and np.array_equal(to_codes(frame), served.dots(path.read_bytes()))


def test_hidden_companions_are_no_arrivals(seen: Seen) -> None:
    """AppleDouble files of macOS (RFC 1740) on disks of other systems; they have the picture's ending."""
    (seen.folder / "._shot.png").write_bytes(b"\x00\x05\x16\x07\x00\x02\x00\x00Mac OS X")
    seen.look(TRIES + 5)
    assert not seen.arrived and not seen.trouble


def test_a_file_that_goes_at_once_is_no_trouble(seen: Seen, monkeypatch: pytest.MonkeyPatch) -> None:
    """Listed, and gone when it is looked at: the folder is still there."""
    gone = seen.folder / "gone.png"
    monkeypatch.setattr(Path, "iterdir", lambda _: iter([gone]))
    monkeypatch.setattr(Path, "is_file", lambda _: True)
    seen.look(1)
    assert not seen.trouble


def test_a_picture_saved_again_under_its_name_is_new(seen: Seen) -> None:
    path = served.picture_file(seen.folder, "shot.png")
    seen.look()
    path.write_bytes(served.picture_file(seen.folder.parent, "other-name.png").read_bytes())
    os.utime(path, (1, 1))
    seen.look()
    assert len(seen.arrived) == 2 and seen.arrived[0].id != seen.arrived[1].id


def test_what_arrived_stays_as_it_was(seen: Seen, bench: Bench) -> None:
    """A capture program that saves over its last picture does not change what was shown."""
    path = served.picture_file(seen.folder, "shot.png")
    first = path.read_bytes()
    seen.look()
    path.write_bytes(served.picture_file(seen.folder.parent, "other-name.png").read_bytes())
    bench.frames._held.clear()
    frame = bench.frames.clip(seen.arrived[0].id).frame
    assert np.array_equal(to_codes(frame), served.dots(first))


def test_a_capture_like_a_known_frame_has_its_own_name(seen: Seen, bench: Bench, tmp_path: Path) -> None:
    (seen.folder / "shot.png").write_bytes((tmp_path / "a.png").read_bytes())
    seen.look()
    assert seen.arrived[0].name == "shot.png" and seen.arrived[0].kind == "watched"
    assert bench.frames.known(bench.first).name == "a.png"


def test_a_picture_being_written_is_waited_for(seen: Seen) -> None:
    whole = served.picture_file(seen.folder.parent, "c.png").read_bytes()
    path = seen.folder / "shot.png"
    for share in (3, 2):
        path.write_bytes(whole[: len(whole) // share])
        seen.look(1)
    seen.look(3)  # it stands still, half of it
    assert not seen.arrived and not seen.trouble
    path.write_bytes(whole)
    seen.look()
    assert len(seen.arrived) == 1 and not seen.trouble


def test_what_stays_broken_is_told_once(seen: Seen) -> None:
    (seen.folder / "shot.png").write_bytes(b"\x89PNG broken")
    (seen.folder / "notes.txt").write_text("not a picture", encoding="utf-8")
    seen.look(TRIES + 5)
    assert len(seen.trouble) == 1 and "shot.png" in seen.trouble[0]


def test_a_folder_that_vanishes_is_told_once_and_taken_up_again(seen: Seen) -> None:
    aside = seen.folder.rename(seen.folder.parent / "aside")
    seen.look(3)
    assert len(seen.trouble) == 1 and "not there any more" in seen.trouble[0]
    aside.rename(seen.folder)
    served.picture_file(seen.folder, "late.png")
    seen.look()
    assert [each.name for each in seen.arrived] == ["late.png"]


def test_arrivals_reach_every_open_page(bench: Bench) -> None:
    pages = [bench.listen(), bench.listen()]
    bench.tell({"kind": "watched"})
    assert [page.get_nowait() for page in pages] == [{"kind": "watched"}] * 2
    bench.leave(pages[0])
    bench.tell({"kind": "again"})
    assert pages[0].empty() and not pages[1].empty()
