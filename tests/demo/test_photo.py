"""The demonstration's simulated photo: it is labelled so, and its own box explains it."""

from __future__ import annotations

import pytest

from scalesim.jobs.demo.photo import NAME
from scalesim.jobs.demo.steps import photo_of_tube
from scalesim.jobs.glass.explained import GlassExplained


@pytest.mark.slow
def test_the_new_box_explains_it() -> None:
    found = photo_of_tube()
    assert isinstance(found, GlassExplained) and found.name == NAME and "simulated" in found.name
    assert found.explained.tried[0].label == "the new box" and not found.undecided
    assert "Two sets of lines, odds" in found.sentences()[1]
