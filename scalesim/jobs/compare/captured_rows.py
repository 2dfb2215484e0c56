"""Captured boxes in a comparison: each is looked for in every frame."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from numpy.typing import NDArray

from scalesim.core.clip import Clip
from scalesim.errors import ParameterError, ScalesimError
from scalesim.jobs.compare.capture_checks import flat_noise
from scalesim.jobs.compare.captured import Capture, MeanPicture, captured
from scalesim.jobs.compare.matched import Matching
from scalesim.jobs.compare.rows import Row, row_of
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.outcome import Outcome


class CapturedRows:
    """Captured boxes, looked for in every frame.

    Parameters:
        pictures : label -> the mean of its frames
        names : metric keys to measure; by : those that are ranked by
        reference : as for `compare`
    """

    def __init__(
        self,
        pictures: Mapping[str, MeanPicture],
        names: tuple[str, ...],
        by: tuple[str, ...],
        reference: str | NDArray,
    ) -> None:
        self._pictures, self._names, self._by, self._reference = pictures, names, by, reference
        self._why: dict[str, str] = {}
        self._found: set[str] = set()
        self.matched: list[Row] = []
        self.notes = [f"{label}: {note}" for label, each in pictures.items() for note in each.notes]

    @property
    def any(self) -> bool:
        """Whether there are captured boxes."""
        return bool(self._pictures)

    def rows(self, source: FrameSource, clip: Clip, predicted: Mapping[str, Outcome]) -> list[Row]:
        """Return the rows of the boxes whose captures show this frame; add those of matched predictions."""
        rows = []
        for label, picture in self._pictures.items():
            try:
                own = captured(label, picture.values, clip, metrics=self._names, reference=self._reference)
            except ScalesimError as error:
                self._why[label] = str(error)
                continue
            self._found.add(label)
            self.notes += own.outcome.notes
            rows.append(row_of(source, label, own.outcome, "captured"))
            self._match(source, clip, Matching(label, own, 0.0, predicted, self._by), picture)
        return rows

    def _match(self, source: FrameSource, clip: Clip, matching: Matching, picture: MeanPicture) -> None:
        """Add the rows of predictions matched to a capture, or say why none are."""
        if not matching.predicted:
            return
        assert clip.frame is not None
        registration = matching.capture.registration
        noise = picture.noise
        if noise is None:
            noise = flat_noise(picture.values, clip.frame, registration)
        if noise is None:
            self.notes.append(
                f"{matching.label}: is ranked apart from predictions: one frame without flat places does not "
                "tell its noise; give several frames"
            )
            return
        rows, told = replace(matching, noise=noise).rows(source)
        self.matched += rows
        self.notes.append(
            told
            or f"{matching.label}: is ranked apart from predictions: none has its lines and vertical scale."
        )

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
