"""What `identify` says of a box: the stages in words, ties, phases, and the file of the measured weights."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pytest

from scalesim.charts.kernel import kernel_chart
from scalesim.jobs.identify.identification import OPERATOR
from scalesim.jobs.identify.identify import Identification, identify, with_operator
from scalesim.jobs.predict.predict import predict


def identified(chain: str, mode: str) -> Identification:
    """Return the answer to what `predict` makes of the chart of a mode, in 8 bits."""
    woven = predict(kernel_chart(mode).frame, chain, mode=mode, metrics=[]).woven
    return identify([(np.floor(255 * np.clip(woven, 0, 1) + 0.5) / 255).astype(np.float32)], mode)


def test_the_taps_of_a_filter_ahead_of_a_drop_are_told() -> None:
    """The lines are filtered and every second is kept: the sentence names the taps and both counts."""
    found = identified("line-average lines=480, flicker-filter, line-drop lines=240 phase=1", "720p60")
    doing = "averages lines down to 480, filters them by 1/2/1 and keeps 240 of the 480 lines"
    assert found.title == f"The box {doing}"
    assert found.sentences()[0].startswith(f"The box {doing} (")


@pytest.mark.parametrize(
    ("chain", "mode", "doing"),
    [
        ("flicker-filter, interlace", "480p", "filters its lines by 1/2/1 and sends them as two fields"),
        ("line-average lines=480", "480p", "passes its 480 lines on as they are"),
        ("deinterlace", "480i", "weaves the fields into one picture and sends its lines as two fields"),
    ],
)
def test_a_stage_that_changes_no_line_is_not_told(chain: str, mode: str, doing: str) -> None:
    """480 lines from 480 are no average, and "480 of them" are no frames."""
    assert identified(chain, mode).title == f"The box {doing}"


def test_a_box_that_mixes_both_fields_keeps_all_its_weights(tmp_path) -> None:
    """The mean of both fields' lines: its file takes woven frames, and its chain weaves them first."""
    chart = kernel_chart("480i").frame
    found = identify([((chart[0::2] + chart[1::2]) / 2).astype(np.float32)], "480i")
    assert not found.undecided
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        text = found.files()["operator"].content
    (tmp_path / OPERATOR).write_text(str(text), encoding="utf-8")
    chain = with_operator(replace(found, method="unknown"), tmp_path.as_posix()).chain
    made = predict(chart, chain, mode="480i", metrics=[]).woven
    assert np.abs(made - (chart[0::2] + chart[1::2]) / 2)[4:-4].max() < 0.01


def test_ties_are_all_named_or_counted() -> None:
    """Fourteen names are all told; of twenty-one, five are counted and their place is told."""
    found = identified("line-average lines=240", "720p60")
    for count, more in ((14, ""), (21, "; and 4 more, in `methods` of result.json")):
        names = tuple(f"name-{k:02}" for k in range(count))
        said = " ".join(replace(found, methods=names, same_lines=names[1:]).sentences())
        told = [name for name in names[1:] if name in said]
        assert len(told) == min(count - 1, 16)
        assert (more in said) if more else ("more, in" not in said)


def test_no_sentence_claims_more_than_was_tried_and_no_phase_is_a_rounding_error() -> None:
    """A phase of -1e-14 is 0; without a name it is said that none of those tried fits."""
    found = identified("line-average lines=240", "720p60")
    odd = replace(found, method="unknown", phase=(-1.0, -9.63e-15))
    assert "phase from -1 to 0. No chain that was tried gives just that" in odd.sentences()[0]
    assert "that were tried" in odd.title
    assert "that were tried" in replace(odd, methods=()).sentences()[0]
