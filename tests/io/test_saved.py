"""Every job's saved answer, read back: the same words, tables, plots and pictures, and the same files."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from few import few
from jobs.test_motion import clip_of, source
from numpy.typing import NDArray
from page.compared import frame, made
from PIL import Image
from scope_records import Spec, record

from scalesim.charts.kernel import kernel_chart
from scalesim.core.clip import still_clip
from scalesim.core.codes import to_codes
from scalesim.core.lag_table import LagTable
from scalesim.core.trace import Trace
from scalesim.errors import ReadError
from scalesim.io.saved import read_saved
from scalesim.jobs.catalogue import jobs
from scalesim.jobs.chart.chart import chart
from scalesim.jobs.clocks.clocks import clocks
from scalesim.jobs.demo.demo import Drawn
from scalesim.jobs.fields.fields import fields
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.identify.identify import identify
from scalesim.jobs.lag.lag import lag
from scalesim.jobs.landing.landing import landing
from scalesim.jobs.motion.motion import motion
from scalesim.jobs.position.position import capture_position
from scalesim.jobs.predict.flicker_study import flicker_study
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.press.press import calibrate
from scalesim.jobs.trace.trace import trace
from scalesim.jobs.tune.tune import tune
from scalesim.page.kept import kept
from scalesim.plot import Plot
from scalesim.reading import read_glass
from scalesim.result import Code, Links, Part, Picture, Result, Table, Viewer
from scalesim.saving import save


def art(lines: int, samples: int) -> NDArray:
    """Return blocks of six lines and samples, float32 codes 0..1."""
    blocks = np.random.RandomState(5).randint(20, 230, (lines // 6 + 2, samples // 6 + 2, 3))
    return (np.kron(blocks, np.ones((6, 6, 1))) / 255).astype(np.float32)


def a_chart() -> Result:
    return chart("geometry", "480i", seen="top=9,bottom=7,left=30,right=28")


def a_comparison() -> Result:
    return made({"drop": "line-drop lines=48", "fields <b>": "line-average lines=96, interlace"})


class Few(Drawn):
    """Two of the drawn frames."""

    @property
    def kept_pictures(self) -> dict[str, Callable[[], NDArray]]:
        return dict(list(super().kept_pictures.items())[:2])


def a_demonstration() -> Result:
    return Few()


def some_fields() -> Result:
    return fields(still_clip(art(480, 96)[:480, :96], mode="480i", name="capture"))


def an_identification() -> Result:
    return identify([kernel_chart("480p59.94").frame[::2]], "480p59.94")


def a_position() -> Result:
    whole = art(492, 648)
    clip = still_clip(whole[6:486, :640], mode="custom", name="art")
    seen = predict(whole[2:482, :640], "line-average lines=240", metrics=[]).woven
    return capture_position(seen, clip, "line-average lines=240")


def a_prediction() -> Result:
    clip = still_clip(art(96, 120)[:96, :120], mode="custom", name="art <b>")
    found = predict(clip, "interlace")
    return replace(
        found, views=("raster", "seen", "flicker"), study=flicker_study(clip, None, ["1", "1/2/1"])
    )


def a_press() -> Result:
    whole = art(252, 360)
    return calibrate(whole[6:246, :360], whole[4:244, :360], 5)


def a_tuning() -> Result:
    values = np.full((240, 320, 3), 0.8, np.float32)
    values[30:210:18, 20:300] = values[31:210:18, 20:300] = values[32:210:18, 20:300] = 0.1
    source = FrameSource("art.png", lambda: still_clip(values, mode="custom", name="art.png"))
    vary = ["position.lines=-1:1:1", "position.samples=0:1:1"]
    return tune("position lines=0, line-average lines=80", [source], vary=vary)


def a_trace() -> Result:
    spec = Spec(signal="sog", mhz=5.0, ms=52.0, start_lines=140.0)
    return trace([Trace("scope.csv", 1e-6 / spec.mhz, {"CH1": record(spec)}, 0.0, (2,))])


def some_lags() -> Result:
    times = np.arange(0, 120.0)
    frame = 1001 / 60
    return lag([LagTable("log <b>.csv", 20 + (3 + 0.2 * times) % frame, times=times)], rate="59.94")


def two_clocks() -> Result:
    return clocks(source="59.94", display="60")


def a_landing() -> Result:
    return landing(sync="start=line-start", kinds="integrator,strict countdown")


def a_motion() -> Result:
    frames = source(40)
    return motion(clip_of([*frames[:20], frames[19], *frames[21:]]))


def a_glass() -> Result:
    lines = 0.3 + 0.3 * np.cos(2 * np.pi * np.arange(1440) / 6)
    photo = np.repeat(np.repeat(lines[:, None, None], 1200, 1), 3, 2).astype(np.float32)
    return read_glass(photo)


ANSWERS = (
    a_prediction,
    a_comparison,
    a_tuning,
    an_identification,
    some_fields,
    a_press,
    a_position,
    a_chart,
    a_demonstration,
    a_trace,
    some_lags,
    two_clocks,
    a_landing,
    a_motion,
    a_glass,
)
SOME = few(ANSWERS, 5)
"""What one test after the other asks: a few by default."""
answer = cache(lambda make: make())


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Callable[[], Result]], Path]:
    """Return a function from a maker to the folder that its answer is saved in, once."""
    root = tmp_path_factory.mktemp("saved")

    def saved(make: Callable[[], Result]) -> Path:
        folder = root / make.__name__
        if not folder.exists():
            save(answer(make), folder)
        return folder

    return saved


def contents(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_no_job_is_left_out() -> None:
    assert {answer(make).kind for make in ANSWERS} == set(jobs())


@pytest.mark.parametrize("make", SOME)
def test_the_same_words_tables_and_plots(make: Callable[[], Result], place: Any) -> None:
    found, first = read_saved(place(make)), answer(make)
    assert (found.kind, found.title, found.undecided) == (first.kind, first.title, first.undecided)
    assert (found.sentences(), found.remarks()) == (first.sentences(), first.remarks())
    assert (found.opening, found.foot) == (tuple(first.opening), tuple(first.foot))
    assert found.table() == first.table()
    assert found.figures() == first.figures()
    assert found._repr_html_() == first._repr_html_()
    assert found.to_dict() == json.loads(json.dumps(first.to_dict()))
    assert {n: f.name for n, f in found.files().items()} == {n: f.name for n, f in first.files().items()}


@pytest.mark.parametrize("make", SOME)
def test_the_same_parts(make: Callable[[], Result], place: Any) -> None:
    """Titles, paragraphs and all that is shown, in order; pictures by their values."""

    class Memory:
        def __init__(self) -> None:
            self.pictures: dict[str, NDArray] = {}

        def add(self, name: str, values: NDArray, palette: Any = ()) -> None:
            self.pictures[name] = values if palette or values.dtype == np.uint8 else to_codes(values)

        def image(self, name: str) -> str:
            return name

        def source(self, name: str) -> str:
            return name

    stores = Memory(), Memory()
    parts = [
        [kept(part, store) for part in each.parts()]
        for each, store in zip((answer(make), read_saved(place(make))), stores, strict=True)
    ]
    assert list(map(shape, parts[0])) == list(map(shape, parts[1])) and parts[0]
    stills = {name for name in stores[0].pictures if "still" in name}  # they are links now
    assert set(stores[0].pictures) - stills == set(stores[1].pictures)
    for name, values in stores[1].pictures.items():
        assert np.array_equal(values, stores[0].pictures[name]), name


def shape(part: Part) -> tuple[Any, ...]:
    """Return all of a part but the values of its pictures."""
    items: list[Any] = []
    for item in part.items:
        if isinstance(item, Viewer):
            layers = tuple(replace(layer, values=0, fields=()) for layer in item.layers)
            fields_of = tuple((f.name, f.label, box) for layer in item.layers for f, box in layer.fields)
            items.append({**vars(item), "layers": [vars(layer) for layer in layers], "fields": fields_of})
        elif isinstance(item, Picture):
            items.append(
                {name: value for name, value in vars(item).items() if name not in ("values", "whole")}
            )
        else:
            assert isinstance(item, Table | Plot | Code | Links)
            items.append(item)
    return (part.title, part.text, part.anchor, part.quiet, part.quiet_text, part.layout, items)


@pytest.mark.parametrize("make", SOME)
def test_the_same_pictures_dot_for_dot(make: Callable[[], Result], place: Any) -> None:
    """Read by Pillow from the files, and as values: codes of 8 bits as 0..1."""
    found, first = read_saved(place(make)), answer(make)
    assert set(first.kept_pictures) <= set(found.pictures)
    for name, values in first.kept_pictures.items():
        values = values() if callable(values) else values
        codes = values if values.dtype == np.uint8 else to_codes(values)
        assert np.array_equal(found.pictures[name], codes / np.float32(255)), name
        with Image.open(found.folder / found.picture_file(name)) as opened:
            assert np.array_equal(np.asarray(opened.convert("RGB")), codes)


@pytest.mark.parametrize("make", SOME)
def test_shown_again_it_is_the_same_page_text_and_document(
    make: Callable[[], Result], place: Any, tmp_path: Path
) -> None:
    """Saved anew, every file is byte for byte what it was: page, Markdown, plots, pictures, tables."""
    save(read_saved(place(make)), tmp_path / "again")
    first, again = contents(place(make)), contents(tmp_path / "again")
    assert first.keys() == again.keys()
    assert [name for name in first if first[name] != again[name]] == []


@dataclass(frozen=True, eq=False)
class Nested(Result):
    """A result with another in a folder of its own, and a picture that opens one none of its own."""

    inner: tuple[Result, ...] = ()
    kind = "nested"

    def sentences(self) -> list[str]:
        return ["One."]

    def table(self) -> Table:
        return Table("T", ("a",), (("1",),))

    def parts(self) -> tuple[Part, ...]:
        whole = np.arange(48, dtype=np.uint8).reshape(4, 4, 3)
        return (Part("P", items=(Picture("small", whole[:2], "small", shown="large", whole=whole),)),)

    def children(self) -> list[tuple[str, str, Result]]:
        return [("inner", "Further in", each) for each in self.inner]

    def to_dict(self) -> dict[str, Any]:
        return {}


def test_results_within_results_and_pictures_behind_pictures(tmp_path: Path) -> None:
    save(Nested((Nested(),)), tmp_path / "o")
    found = read_saved(tmp_path / "o")
    ((place, words, inner),) = found.children()
    assert (place, words, inner.sentences()) == ("inner", "Further in", ["One."])
    save(found, tmp_path / "again")
    assert contents(tmp_path / "o") == contents(tmp_path / "again")
    assert {"large.png", "small.png", "inner/large.png", "inner/index.html"} <= contents(
        tmp_path / "o"
    ).keys()


# Damage


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    save(Nested(), tmp_path / "o")
    return tmp_path / "o"


def damaged(folder: Path, change: Callable[[dict[str, Any]], Any], name: str = "answer.json") -> Path:
    document = json.loads((folder / name).read_text("utf-8"))
    changed = change(document)
    (folder / name).write_text(json.dumps(document if changed is None else changed), "utf-8")
    return folder


CHANGES: dict[str, Callable[[dict[str, Any]], Any]] = {
    "a key is missing": lambda d: d.pop("sentences") and None,
    "a list": lambda d: [d],
    "a number": lambda d: 7,
    "no table": lambda d: d.update(table="T"),
    "an unknown kind of thing": lambda d: d["table"].update({"is": "Tabel"}),
    "an unknown key": lambda d: d["table"].update(colour="red"),
    "a key of a thing missing": lambda d: d["table"].pop("title") and None,
    "parts of no kind": lambda d: d.update(parts=[1]),
    "figures of no kind": lambda d: d.update(figures=[d["table"]]),
    "words of no kind": lambda d: d.update(sentences=[3]),
    "pictures of no kind": lambda d: d.update(pictures=["a"]),
    "a title of no kind": lambda d: d.update(title=None),
    "a picture elsewhere": lambda d: d["parts"][0]["items"][0].update(name="../other"),
    "a picture behind it elsewhere": lambda d: d["parts"][0]["items"][0].update(shown="/etc/other"),
    "a file elsewhere": lambda d: d.update(files={"a": "../a.txt"}),
    "a kept picture elsewhere": lambda d: d.update(pictures={"a": "..\\a.png"}),
    "a child elsewhere": lambda d: d.update(children=[["../inner", "words"]]),
    "a later version": lambda d: d.update(schema=2),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_damage_is_told_in_one_line(saved: Path, change: Callable[[dict[str, Any]], Any]) -> None:
    read_saved(saved)
    with pytest.raises(ReadError, match=r"answer\.json: (is damaged|has schema 2).*; run again$") as caught:
        read_saved(damaged(saved, change))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["answer.json", "result.json"])
@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", r"the file is empty \(0 bytes\): .*"),
        (b"{", "cannot be read .*; run again"),
        (b"\xff\xfe", r"is no text in UTF-8 \(byte 0 is 0xff\): .*"),
        (b"[" * 100_000, "cannot be read .*; run again"),
    ],
)
def test_what_is_no_document_is_told_in_one_line(saved: Path, name: str, text: bytes, words: str) -> None:
    (saved / name).write_bytes(text)
    with pytest.raises(ReadError, match=rf"{name}: {words}$"):
        read_saved(saved)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
@pytest.mark.parametrize("name", ["answer.json", "result.json"])
def test_a_pipe_for_a_document_is_not_opened(saved: Path, name: str) -> None:
    (saved / name).unlink()
    os.mkfifo(saved / name)
    with pytest.raises(ReadError, match=rf"{name}: this is a device or pipe"):
        read_saved(saved)


def test_a_foreign_folder_is_told_in_one_line(saved: Path, tmp_path: Path) -> None:
    for place in (tmp_path / "nowhere", tmp_path):
        with pytest.raises(ReadError, match=r"holds no result\.json; name a folder that a command wrote$"):
            read_saved(place)
    (saved / "answer.json").unlink()
    with pytest.raises(ReadError, match=r"holds no answer\.json"):
        read_saved(saved)


def test_a_picture_that_is_gone_or_damaged_is_told_when_it_is_wanted(saved: Path, tmp_path: Path) -> None:
    (saved / "small.png").write_bytes(b"no picture")
    found = read_saved(saved)
    assert found.sentences() == ["One."]  # words need no pictures
    with pytest.raises(ReadError, match=r"small\.png: cannot be read .*; run again$"):
        save(found, tmp_path / "again")
    shutil.rmtree(saved)
    with pytest.raises(ReadError, match=r"small\.png: cannot be read"):
        save(found, tmp_path / "again")


def test_the_frames_of_the_tests_are_whole_codes() -> None:
    """Otherwise "dot for dot" would mean nothing."""
    assert np.array_equal(to_codes(frame()) / np.float32(255), frame())
