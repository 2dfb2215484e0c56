"""What a comparison tells once: frames taken out of clips, what was taken off them, shapes that change."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.core.framing import framing_notes
from scalesim.errors import ScalesimError
from scalesim.jobs.compare.tables import listed
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.landing import landing_keys, landing_notes, landing_said
from scalesim.jobs.predict.outcome import TUBES
from scalesim.texts import capital

_SHAPE_STAGES = ("fit", "size")
_WIDER = Fraction(11, 10)
"""A frame so much wider in shape than the tube is squeezed visibly; 4:3 in 1.37:1 is not."""


class Told:
    """Collects what is told, frame by frame."""

    def __init__(self) -> None:
        self._notes: dict[str, list[str]] = {}
        self._of_frames: list[str] = []
        self._aspects: dict[str, Fraction] = {}
        self._landed: dict[str, None] = {}
        self.landings: dict[str, Any] = {}

    def frame(self, source: FrameSource, clip: Clip) -> None:
        """Take up what was done to a frame."""
        self._of_frames += source.notes
        for note in framing_notes(clip.notes):
            self._notes.setdefault(note, []).append(source.name)

    def notes(self, notes: Iterable[str]) -> None:
        """Take up what was done to choose frames."""
        self._of_frames += notes

    def chain(self, label: str, chain: Chain, clip: Clip) -> None:
        """Take up a chain that says nothing of the picture's shape, and where a display lands its fields."""
        if label not in self.landings:
            self._landing(label, chain, clip)
        if not any(stage.kind in _SHAPE_STAGES for stage in chain.stages):
            self._aspects[label] = max(clip.raster.aspect, self._aspects.get(label, Fraction(0)))

    def _landing(self, label: str, chain: Chain, clip: Clip) -> None:
        try:
            resolved = chain.resolve(clip.raster)
        except ScalesimError:  # told with what could not be done
            return
        said = [*landing_notes(chain, resolved), *landing_said(chain, resolved)]
        self._landed |= dict.fromkeys(f"{label}: {capital(each).removesuffix('.')}." for each in said[:2])
        keys, _ = landing_keys(chain, resolved)
        if keys.get("landing"):
            self.landings[label] = keys["landing"][0]

    def sentences(self, tube: str) -> list[str]:
        """Return what there is to tell."""
        said = [f"{listed(names)}: {note}" for note, names in self._notes.items()]
        squeezed = [label for label, aspect in self._aspects.items() if aspect > _WIDER * TUBES[tube]]
        if squeezed:
            said.append(
                f"On a {tube} tube, shapes are squeezed sideways after {listed(squeezed)}: the frame "
                f"is wider than the "
                "tube, and no fit stage says what to do about it."
            )
        return [*dict.fromkeys(self._of_frames), *said, *self._landed]
