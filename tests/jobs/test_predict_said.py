"""What a prediction says of what a display hides, of a clip that moves, and of how much it rests on."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.scenes import grey, pixel_art

from scalesim.jobs.predict.on_screen import Glass
from scalesim.jobs.predict.predict import predict

ART = grey(pixel_art(3, lines=240))


@pytest.mark.parametrize(("chain", "stage"), [("", 0.0), (", overscan percent=10", 10.0)])
def test_the_shown_display_hides_what_its_overscan_says(chain: str, stage: float) -> None:
    """1 - (1 - h)^2 of the area for a share h of each dimension; a chain's own overscan takes its place."""
    glass = Glass()
    hidden = (stage or glass.tube.overscan_percent) / 100
    assert hidden > 0
    seen = predict(ART, "line-average lines=240" + chain, metrics=["cropped_percent"], glass=glass)
    assert seen.metrics["cropped_percent"] == pytest.approx(100 * (1 - (1 - hidden) ** 2), abs=1e-6)
    said = " ".join(seen.sentences())
    assert ("hidden by the display's overscan" in said) is (stage == 0)
    plain = predict(ART, "line-average lines=240" + chain, metrics=["cropped_percent"])
    assert plain.metrics["cropped_percent"] == pytest.approx(100 * (1 - (1 - stage / 100) ** 2), abs=1e-6)
    assert "overscan" not in " ".join(plain.sentences())


def test_a_degree_with_how_many_outlines() -> None:
    seen = predict(ART, "line-average lines=240 phase=1/2", metrics=["line_doubling", "lost_lines"])
    said = " ".join(seen.sentences())
    assert (
        f"On average an outline is split 33 % of the way to an even split ({seen.n['line_doubling']} "
        f"outlines)." in said
    )
    assert seen.n["line_doubling"] > 20


def test_a_clip_is_not_said_to_stand_still() -> None:
    from scalesim.core.clip import Clip, still_clip
    from scalesim.core.picture import Picture

    still = still_clip(ART)
    pictures = [Picture(np.roll(ART, 4 * k, axis=1), still.raster, k / 60) for k in range(4)]
    clip = Clip(still.raster, lambda: iter(pictures), "scroll", still.mode, length=4)
    moving = " ".join(predict(clip, "line-drop lines=120", metrics=["flicker_percent"]).sentences())
    assert "stands still" not in moving and "held still" in moving
    assert "stands still" in " ".join(
        predict(ART, "line-drop lines=120", metrics=["flicker_percent"]).sentences()
    )
