"""Jitter as it is told: never stiller than it was resolved, in the sentence and in the table beside it.

The limits are those of README.md: up to 0.025 pitch of whole fields may be a film's coding.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from scalesim.jobs.glass.document import _spread
from scalesim.jobs.glass.measured import Measured
from scalesim.jobs.glass.words import _jitter, _strays, resolved_of_fields, resolved_of_lines
from scalesim.signal.glass.field_jitter import FieldJitter
from scalesim.signal.glass.jitter import LineJitter

NONE = np.zeros(0)


@pytest.mark.parametrize(
    ("rms", "error", "said"),
    [
        (0.0, 0.0001, "at most 0.005"),
        (0.004, 0.003, "at most 0.006"),
        (0.02, 0.003, "0.020 ± 0.003"),
    ],
)
def test_single_lines(rms: float, error: float, said: str) -> None:
    found = LineJitter(rms, error, 300, NONE, NONE.astype(np.int64))
    assert _spread(found, resolved_of_lines(found)) == said


@pytest.mark.parametrize("fields", [None, 1.0])
@pytest.mark.parametrize("rms", [0.0, 0.02])
def test_what_one_field_must_show_is_said_of_a_photo_that_does_not_tell(
    fields: float | None, rms: float
) -> None:
    """README: jitter needs an exposure of one field or less; several even out what their lines waver."""
    jitter = LineJitter(rms, 0.001, 300, NONE, NONE.astype(np.int64))
    said = _jitter(cast(Measured, SimpleNamespace(jitter=jitter, fields=fields)), None)
    assert ("if one field was exposed" in said) == (fields is None) and said.endswith(".")


@pytest.mark.parametrize(
    ("rms", "registration", "cell", "sentence"),
    [
        (
            0.003,
            0.001,
            "at most 0.025",
            "stand still against the bezel to 0.025 pitch rms over 24 frames (0.003",
        ),
        (0.03, 0.02, "at most 0.040", "stand still against the bezel to 0.040 pitch rms"),
        (0.05, 0.01, "0.050 ± 0.007", "stray by 0.050 ± 0.007 pitch rms"),
    ],
)
def test_whole_fields(rms: float, registration: float, cell: str, sentence: str) -> None:
    found = FieldJitter(rms, 0.007, 24, registration)
    assert _spread(found, resolved_of_fields(found)) == cell
    assert sentence in _strays(found)
