"""Captured boxes in a comparison: each is looked for in every frame."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.errors import ParameterError, ScalesimError
from scalesim.jobs.compare.captured import Capture, captured
from scalesim.jobs.compare.rows import Row, row_of
from scalesim.jobs.frames import FrameSource


class CapturedRows:
    """Captured boxes, looked for in every frame."""

    def __init__(
        self, means: Mapping[str, NDArray], names: tuple[str, ...], reference: str | NDArray
    ) -> None:
        self._means, self._names, self._reference = means, names, reference
        self._why: dict[str, str] = {}
        self._found: set[str] = set()
        self.notes: list[str] = []

    def rows(self, source: FrameSource, clip: Clip) -> list[Row]:
        """Return the rows of the boxes whose captures show this frame."""
        rows = []
        for label, mean in self._means.items():
            try:
                own = captured(label, mean, clip, metrics=self._names, reference=self._reference)
            except ScalesimError as error:
                self._why[label] = str(error)
                continue
            self._found.add(label)
            self.notes += own.outcome.notes
            rows.append(row_of(source, label, own.outcome, "captured"))
        return rows

    def never_shown(self) -> dict[str, str]:
        """Return label -> why, of boxes whose captures show none of the frames."""
        return {label: why for label, why in self._why.items() if label not in self._found}


def labelled(captures: Iterable[Capture]) -> dict[str, Capture]:
    """Return label as shown -> capture; raise ParameterError for a label given twice."""
    boxes: dict[str, Capture] = {}
    for box in captures:
        if box.shown in boxes:
            raise ParameterError(
                f"capture '{box.label}' is given twice; give every capture a name of its own"
            )
        boxes[box.shown] = box
    return boxes
