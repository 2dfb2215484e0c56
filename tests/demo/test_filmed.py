"""The demonstration's clip: what it says is to be seen in it, and what is kept of it."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import av
import numpy as np
import pytest

from scalesim.io.clips.guarded import save_clip
from scalesim.io.saved import read_saved
from scalesim.jobs.compare.clip.compose import boxes_of
from scalesim.jobs.demo.steps import film_scene
from scalesim.result import ClipTold, FlashCount
from scalesim.saving import save

NOTHING = ClipTold("mp4", "comparison.mp4", ())


def _unwritten(*_: object) -> ClipTold:
    return NOTHING


RAIL = np.s_[430:457, 25:90]
"""Dots of a panel around the balcony's upper rail, dark on light, in the first pictures."""


def test_a_rail_comes_and_goes_where_lines_are_dropped_and_stays_where_they_are_averaged() -> None:
    """Its darkest row, mean codes of 255, at the three places it has between scan lines; light is 220."""
    found = film_scene(_unwritten)
    boxes = boxes_of(found.shown.places, found.shown.part)
    rows = [
        [frame[box.top : box.bottom, box.left : box.right][RAIL].mean(axis=(1, 2)).min() for box in boxes]
        for frame in islice(found.moving().pictures, 0, 6, 2)
    ]
    dropped, averaged = np.transpose(rows)
    assert dropped.max() > 200 and dropped.min() < 60
    assert averaged.max() < 180 and averaged.min() > 80


def test_the_file_for_sharing_is_kept_and_listed(tmp_path: Path) -> None:
    """The writer is given the place; the page links the one file that is there."""

    def film(make: object, path: Path) -> ClipTold:
        path.write_bytes(b"clip")
        Path(f"{path}.flashes.json").write_text("{}", encoding="utf-8")
        count = FlashCount("a standard", "the screen", 0.5, 0, 3, True)
        return ClipTold("mp4", path.name, (count,), keys={"caution_s": 0})

    document = save(film_scene(film), tmp_path / "o")
    assert Path(document["files"]["mp4-clip"]).read_bytes() == b"clip"
    assert Path(document["files"]["mp4-clip-flashes"]).is_file()
    page = (tmp_path / "o" / "index.html").read_text("utf-8")
    assert 'href="comparison.mp4"' in page and "comparison.mkv" not in page
    assert "a standard" in page and "nothing: none is needed" in page
    assert document["clips"] == {"mp4": {"caution_s": 0}}
    assert any("Watch the balcony" in text for text in read_saved(tmp_path / "o").sentences())


@pytest.mark.slow
def test_it_is_written_guarded_and_needs_no_caution(tmp_path: Path) -> None:
    """120 pictures of 60 a second, by FFmpeg's count; the flashes are within both standards' limits."""
    saved = save_clip(film_scene(_unwritten).moving, tmp_path / "a.mp4")
    assert saved.report.passes and saved.card_s == 0
    with av.open(str(tmp_path / "a.mp4")) as container:
        stream = container.streams.video[0]
        assert (stream.width, stream.height, stream.average_rate) == (1920, 1080, 60)
        assert sum(1 for _ in container.decode(stream)) == 120
