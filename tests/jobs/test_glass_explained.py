"""A photo against predictions and two photos beside each other, as answers: words, keys, files, refusals."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import skimage.data
from PIL import Image

import scalesim as ss
from scalesim.chain import Chain
from scalesim.cli.main import main
from scalesim.core.clip import still_clip
from scalesim.core.encoding import code_to_light
from scalesim.core.photo import Photo
from scalesim.errors import NotIdentifiable, ParameterError
from scalesim.jobs.glass.against import CAMERA_PX, Explained
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.display_file import display_toml
from scalesim.jobs.glass.explained import GlassExplained
from scalesim.jobs.glass.glass import glass
from scalesim.jobs.glass.hypotheses import hypotheses
from scalesim.result import Code
from scalesim.signal.explain.between import Between
from scalesim.signal.explain.fit import Fitted
from scalesim.signal.explain.lit import Beam, lit_lines
from scalesim.signal.explain.odds import MOST
from scalesim.signal.explain.straight import Straight
from scalesim.signal.rectify.view import View
from scalesim.tube.beam import FWHM, line_places
from scalesim.tube.display import Display, display_named
from scalesim.tube.response import RATED_MODULATION
from tests.pinhole import Pinhole

TWO = Chain("two: line-average lines=480, interlace")
DROP = Chain("drop: line-drop lines=240 phase=1")


def frame() -> np.ndarray:
    return (skimage.data.astronaut()[:360] / 255).astype(np.float32).repeat(2, 0).repeat(2, 1)


def fitted(misfit: float, white: float = 0.3, black: float = 0.2) -> Fitted:
    tiles = misfit * np.exp(0.2 * np.random.RandomState(0).randn(36))
    beam = Beam(white, black, 0.002)
    return Fitted(beam, tiles, np.ones(36), np.full(36, 0.004), np.zeros(20), misfit)


def answer(*misfits: float, odds: tuple[float, ...]) -> GlassExplained:
    tried = hypotheses(still_clip(frame(), mode="720p60"), [TWO, DROP])[: len(misfits)]
    photo = Straight(np.full((1920, 1280), 0.2, np.float32), 240, 4 / 3, 10.0)
    lit = lit_lines(tried[0].cycle, tried[0].raster)
    view = View(np.eye(3), (100, 100), how="the frame that was sent", points=99, residual=0.5)
    over = tuple(Between(0.4, 0.1, 36) for _ in misfits[1:])
    made = Explained(tuple(tried), tuple(fitted(m) for m in misfits), odds, photo, lit, 36, view, over)
    reading = GlassRead("photo.jpg", None, "no lines", (), np.zeros((9, 9, 3), np.uint8), 1)
    return GlassExplained("photo.jpg", made, reading, display_named("studio-36cm-800"))


def test_chains_that_interlace_are_tried_with_every_landing() -> None:
    found = hypotheses(still_clip(frame(), mode="720p60"), [TWO, DROP])
    assert [(each.label, each.sets, each.given) for each in found] == [
        ("two", "two", True),
        ("drop", "one", True),
        ("two, on one set", "one", False),
        ("two, on one set, paired up", "one", False),
    ]
    assert "field-only" in found[2].chain.text and "pair=up" in found[3].chain.text
    own = Chain("one: line-average lines=480, interlace, field-only")
    assert [each.sets for each in hypotheses(still_clip(frame(), mode="720p60"), [own])] == [
        "one",
        "two",
        "one",
    ]


def test_chains_that_cannot_be_compared_are_refused() -> None:
    source = still_clip(frame(), mode="720p60")
    with pytest.raises(ParameterError, match="chain 'drop' is given twice"):
        hypotheses(source, [DROP, DROP])


def test_a_clear_verdict_in_words_and_keys() -> None:
    found = answer(0.02, 0.2, 0.3, odds=(1.0, 14.0, MOST))
    assert found.title == "The photo shows two" and not found.undecided
    said = found.sentences()
    assert said[0].startswith(
        "Of 3 predictions “two” explains the photo best, odds 14 to 1 over the next, “drop”"
    )
    assert "n = 36 tiles, 2.0 % left unexplained" in said[0]
    most = answer(0.02, 0.2, 0.3, odds=(1.0, MOST, MOST)).sentences()[0]
    assert "odds 20 or more to 1 over each of the others" in most
    assert said[1] == "Two sets of lines, odds 14 to 1."
    told = found.to_dict()
    assert told["sets"] == "two" and told["confidence"] == pytest.approx(14 / 15)
    assert told["explained"]["best"] == "two" and told["explained"]["odds"] == 14.0
    assert {"lines", "lines_error", "landing_offset", "shutter", "why"} <= set(told)
    given = {each.label: each.chain.text for each in found.explained.tried if each.given}
    assert told["chains"] == given and given["drop"] == DROP.text
    assert {i.label: i.text for part in found.parts() for i in part.items if isinstance(i, Code)} == given


def test_what_cannot_be_told_apart_is_not_told_apart() -> None:
    found = answer(0.02, 0.021, 0.3, odds=(1.0, 1.5, 18.0))
    assert found.undecided
    said = found.sentences()[0]
    assert said.startswith("Cannot tell “two”, “drop” apart from this photo; they beat the other 1")
    assert (
        found.sentences()[1] == "One set of lines or two cannot be told from this photo by its predictions."
    )
    assert found.to_dict()["explained"]["best"] is None and found.to_dict()["sets"] == "unknown"


def test_two_chains_of_one_picture_are_said_to_be_that() -> None:
    """Dropping two lines of three from line 1, written in two ways."""
    again = Chain("again: position lines=0, line-drop lines=240 phase=1")
    source = still_clip(frame(), mode="720p60")
    drop, same, other = hypotheses(source, [DROP, again, Chain("line-drop lines=240 phase=2")])
    assert drop.same_as(same) and not drop.same_as(other)
    found = answer(0.02, 0.02, odds=(1.0, 1.0))
    made = replace(found.explained, tried=(drop, same))
    said = replace(found, explained=made).sentences()[0]
    assert said.startswith("Cannot tell “drop”, “again” apart from this photo: they predict the same picture")


def test_chains_of_other_line_counts_are_compared() -> None:
    found = hypotheses(still_clip(frame(), mode="720p60"), [DROP, Chain("more: line-average lines=288")])
    assert [each.raster.lines for each in found] == [240, 288]


def test_an_odd_number_of_fields_is_refused_for_chains_that_interlace() -> None:
    """1/20 s, three fields: two of one parity. 1/30 s, and 1/4 s with 15 fields, are even enough."""
    blank = Photo(np.zeros((64, 64, 3), np.uint8))
    source = still_clip(frame(), mode="720p60")
    for shutter in ("1/60", "1/20", "1/40"):
        with pytest.raises(NotIdentifiable, match="expose an even number of whole fields"):
            glass([blank], source=source, chain=[TWO], shutter=shutter)
    for chain, shutter in ((TWO, "1/30"), (TWO, "1/4"), (DROP, "1/60")):
        with pytest.raises(NotIdentifiable, match="too little texture"):
            glass([blank], source=source, chain=[chain], shutter=shutter)


def test_a_photo_of_something_else_is_explained_by_nothing() -> None:
    found = answer(0.6, 0.7, odds=(1.0, MOST))
    assert found.undecided and found.title == "None of the predictions explains the photo"
    assert found.sentences()[0].startswith("Cannot tell: the best of 2 predictions, “two”, leaves 60.0 %")
    assert found.to_dict()["explained"]["odds"] is None and found.to_dict()["sets"] == "unknown"


def test_the_tube_it_shows_by_hand() -> None:
    """Spreads of 0.3 and 0.2 line, 0.85 pixels of 10 off: FWHM 2.3548 sqrt(0.3^2 - 0.085^2); the growth is
    their ratio; the file is a display again."""
    shown = answer(0.02, 0.2, odds=(1.0, 14.0)).display
    white, black = (np.sqrt(s**2 - (CAMERA_PX / 10) ** 2) for s in (0.3, 0.2))
    assert shown.beam_width == pytest.approx(FWHM * white, abs=1e-3)
    assert shown.beam_growth == pytest.approx(white / black, abs=1e-3)
    along = np.sqrt((0.002 * 4 / 3) ** 2 - (CAMERA_PX / 10 / 240) ** 2)
    assert shown.tv_lines == round(float(np.sqrt(-2 * np.log(RATED_MODULATION)) / (np.pi * along)))
    assert shown.black_cd_m2 == pytest.approx(0.004 * shown.white_cd_m2, abs=1e-3)
    assert Display.from_toml(display_toml(shown)) == shown


def test_a_tube_that_is_sharper_than_the_camera_is_said_to_be_that() -> None:
    """A blur of no more than the camera's own: the least that could be told stands with "or more"."""
    found = answer(0.02, 0.2, odds=(1.0, 14.0))
    sharp = replace(found.explained.fits[0], beam=Beam(0.3, 0.2, CAMERA_PX / 10 / 240 * 0.75))
    made = replace(found.explained, fits=(sharp, *found.explained.fits[1:]))
    lines, resolved = made.sharpness
    assert not resolved and f"{lines:.0f} TV lines or more" in replace(found, explained=made).sentences()[-1]


def test_words_that_do_not_fit_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = Photo(np.zeros((64, 64, 3), np.uint8))
    with pytest.raises(ParameterError, match="laid on each other by --before and --after; give both"):
        glass([], before=photo)
    with pytest.raises(ParameterError, match="--chain without the frame it was fed"):
        glass([photo], chain=[DROP])
    with pytest.raises(ParameterError, match="take one photo"):
        glass([photo, photo], source=still_clip(frame(), mode="720p60"), chain=[DROP])
    file = tmp_path / "black.png"
    Image.fromarray(photo.codes).save(file)
    assert main(["glass", str(file), "--chart", "720p"]) == 2
    said = capsys.readouterr().err
    assert "discs of the geometry chart: 0 were found" in said and said.count("\n") == 1
    assert main(["glass", str(file), "--chart", "nothing"]) == 2


@pytest.mark.slow
def test_from_files_to_a_page(tmp_path: Path) -> None:
    """Two sets of lines on OpenCV's camera: explained from the command line; and two photos of it beside."""
    source = tmp_path / "frame.png"
    Image.fromarray((255 * frame()[:, :1024]).astype(np.uint8)).save(source)
    seen = ss.predict(ss.read(source), TWO, metrics=[])
    lights = [code_to_light(each) for each in seen.cycle]
    first = [float(line_places(seen.raster, k)[0]) for k in range(2)]
    names = []
    for k, camera in enumerate((Pinhole(rows=1500, columns=2000), Pinhole(-4, -3, rows=1500, columns=2000))):
        codes = camera.exposure(lights, first, sigma=0.2, seed=k)
        names.append(str(tmp_path / f"photo{k}.jpg"))
        Image.fromarray(np.ascontiguousarray(codes)).save(names[-1], quality=92)
    out = tmp_path / "out"
    asked = ["--source", str(source), "--chain", str(TWO), "--chain", str(DROP), "--out", str(out)]
    assert main(["glass", names[0], *asked, "--shutter", "1/30"]) == 0
    told = json.loads((out / "result.json").read_text("utf-8"))
    assert told["explained"]["best"] == "two" and told["explained"]["sets_odds"]["sets"] == "two"
    assert Display.from_toml((out / "display.toml").read_text("utf-8")).beam_width < 0.7
    both = tmp_path / "both"
    assert main(["glass", "--before", names[0], "--after", names[1], "--out", str(both)]) in (0, 1)
    told = json.loads((both / "result.json").read_text("utf-8"))
    assert told["registration"]["n"] > 40 and told["match"]["gain"] == pytest.approx([1, 1, 1], abs=0.1)
