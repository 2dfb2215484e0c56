"""The caution card: all of its words, whatever the size of the clip."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.io.clips.card import LEAST_S, PAPER, SHORT, TITLE, card_seconds, caution_card

MEASURED = ["30 flashes in one second over 80 % of the picture; at most 3 are taken to be safe."]


@pytest.mark.parametrize("size", [(1080, 1440), (480, 640), (240, 720), (97, 131)])
def test_words_stay_inside_the_safe_area(size: tuple[int, int]) -> None:
    """The middle 90 % of height and width: the safe title area of SMPTE ST 2046-1:2009."""
    card = caution_card(MEASURED, size)
    assert card.shape == (*size, 3)
    lines, samples = np.nonzero(np.any(card != PAPER, axis=2))
    assert lines.min() >= 0.04 * size[0] and samples.min() >= 0.04 * size[1]
    assert samples.max() <= 0.96 * size[1]
    assert lines.max() <= (0.96 * size[0] if size[0] > 100 else size[0])


def test_what_was_measured_is_on_it() -> None:
    assert not np.array_equal(caution_card(MEASURED, (480, 640)), caution_card(["3 flashes"], (480, 640)))


@pytest.mark.parametrize(("clip_s", "card_s"), [(0.02, 3), (0.5, 3), (4, 4), (6, 6), (600, 6)])
def test_it_lasts_as_long_as_its_clip_within_limits(clip_s: float, card_s: float) -> None:
    assert card_seconds(clip_s) == card_s


def test_the_short_card_can_be_read_in_its_time() -> None:
    """Four words a second (common practice for captions, no published source)."""
    assert len(f"{TITLE} {SHORT}".split()) / 4 <= LEAST_S + 0.75
    assert not np.array_equal(
        caution_card(MEASURED, (480, 640)), caution_card(MEASURED, (480, 640), short=True)
    )
