"""The plan of a shot: figures by hand, the films that never tell, and a card without jargon."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from scalesim.cli.main import main
from scalesim.core.camera import CAMERAS, Camera, camera_named
from scalesim.errors import ParameterError
from scalesim.jobs.glass.plan import planned
from scalesim.jobs.glass.plan_words import card
from scalesim.jobs.glass.shots import beat, film_use, lines_of_mask
from scalesim.tube.display import Display

TUBE = Display(
    name="bench",
    diagonal_mm=500,
    aspect="4:3",  # type: ignore[arg-type]  # taken as text
    tv_lines=400,
    beam_width=0.7,
    mask="slots",
    mask_pitch_mm=0.8,
)
LENS = Camera(name="bench camera", pixel_um=5.0, focal_mm=50.0, rows=4000, columns=6000)


def test_the_thin_lens_by_hand() -> None:
    """500 mm at 4:3 are 300 mm high, 240 lines 1.25 mm each. 8 pixels of 5 µm are 0.04 mm on the sensor, so
    m = 0.032 and d = f (1 + 1/m) = 1612.5 mm (thin lens; any textbook of optics)."""
    plan = planned(TUBE, LENS)
    assert plan.line_mm == pytest.approx(1.25)
    assert plan.distance(8.0) == pytest.approx(1612.5)
    assert LENS.pixels(1.25, 1612.5) == pytest.approx(8.0)
    assert plan.stands.pixels_a_line == pytest.approx(8.0) and plan.stands.shown == 1.0
    near = plan.at(500.0)  # 27.8 pixels a line: 4000 rows hold 144 lines, 6000 columns 216 line heights
    assert near.pixels_a_line == pytest.approx(250 * 50 / 450)
    assert near.shown == pytest.approx((144 / 240) * (216 / 320))


@pytest.mark.parametrize(
    "field_rate, never, good",
    [(59.94, (30, 29.97), (24, 25, 50, 60, 120, 240)), (50.0, (25,), (30, 50, 60, 100))],
)
def test_films_that_show_one_parity_are_never_advised(
    field_rate: float, never: tuple[float, ...], good: tuple[float, ...]
) -> None:
    """Fields a picture: 59.94 / 30 = 1.998 shows one parity; 59.94 / 24 = 2.4975 alternates every second."""
    assert {film_use(rate, field_rate) for rate in never} == {"never"}
    assert {film_use(rate, field_rate) for rate in good} == {"good"}
    assert film_use(24, 50) == "slow"  # 2.083 fields: six pictures to the other parity


def test_long_exposures_are_even_numbers_of_whole_fields() -> None:
    plan = planned(TUBE, LENS)
    assert plan.exposures == [(2, pytest.approx(2 / 59.94)), (4, pytest.approx(4 / 59.94))]
    said = " ".join(plan.sentences())
    assert "1/30 s (2 fields) or 1/15 s (4 fields)" in said and "Never film at 30:" in said
    fast = Camera(
        name="fast", pixel_um=1.4, focal_mm=4, rows=3000, columns=4000, slowest_s=0.01, film_rates=(30.0,)
    )
    alone = " ".join(planned(TUBE, fast).sentences())
    assert "reaches no even number of whole fields" in alone and "By film" not in alone


def test_a_film_is_taken_from_where_its_own_rows_suffice() -> None:
    """1080 rows of 4000: pixels of 18.52 µm, so 6 a line are 0.111 mm there and d = 50 (1 + 1.25 / 0.111) =
    612.5 mm (thin lens). The card says it as the sentences do: from the photo's place a line has 2.2."""
    plan = planned(TUBE, LENS)
    film = next(each for each in plan.sentences() if each.startswith("By film"))
    assert re.search(r"A film has 1080 rows: stand 61[23] mm away for it, where a line has 6.0 pixels", film)
    told = next(line for line in card(plan).splitlines() if "film of two seconds" in line)
    assert re.search(r"from 61[23] mm away\.$", told)


def test_beats_by_hand() -> None:
    """Rows every 0.4 mm, lines every 1.25 mm: 0.32 line; against the third harmonic 1/(3.125 - 3) lines."""
    assert lines_of_mask(TUBE, 1.25) == pytest.approx(0.32)
    assert beat(0.32) == pytest.approx(8.0)
    assert beat(1.9, 2.0) == pytest.approx(38.0)
    assert "0.32 lines apart and beat with the lines every 8.0 lines" in " ".join(
        planned(TUBE, LENS).sentences()
    )


def test_a_camera_too_far_says_so() -> None:
    far = Camera(name="far", pixel_um=5, focal_mm=50, rows=4000, columns=6000, distance_mm=8000)
    said = planned(TUBE, far).sentences()[0]
    assert said.startswith("At 8.00 m, far sees 1.6 pixels") and "no line can be told" in said
    assert "stand 1.30 m to 2.13 m away" in said


def test_the_card_is_plain_and_short() -> None:
    card = str(planned(None, None).files()["card"].content)
    assert len(card.splitlines()) < 20 and max(map(len, card.splitlines())) < 100
    assert "Nobody opens a set" in card and "Never a film at 30" in card


def test_frame_lines_are_halved() -> None:
    assert planned(TUBE, LENS, lines=480).lines == 240 and planned(TUBE, LENS, lines=288).lines == 288


def test_cameras_refused() -> None:
    with pytest.raises(ParameterError, match="'webcam'"):
        camera_named("webcam")
    with pytest.raises(ParameterError, match="focal_mm is 50; it must be below distance_mm, 20"):
        Camera(name="x", pixel_um=5, focal_mm=50, rows=4000, columns=6000, distance_mm=20)
    assert camera_named("phone") is CAMERAS["phone"]


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.toml"
    file.write_text('name = "mine"\npixel_um = 1.4\nfocal_mm = 4.3\nrows = 3024\ncolumns = 4032\n')
    out = tmp_path / "plan"
    assert (
        main(["glass", "--plan", "--camera", str(file), "--display", "studio-36cm-800", "--out", str(out)])
        == 0
    )
    assert (out / "card.txt").is_file() and (out / "index.html").is_file()
    file.write_text('name = "mine"\npixel_um = 1.4\nfocal = 4.3\nrows = 3024\ncolumns = 4032\n')
    assert main(["glass", "--plan", "--camera", str(file)]) == 2
    assert "mine.toml: camera: " in capsys.readouterr().err
