"""Photos of the tube beside what was predicted: registered to the frame they show, and straightened."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.encoding import luma
from scalesim.core.photo import Photo
from scalesim.errors import NotIdentifiable, ParameterError, ScalesimError
from scalesim.jobs.compare.look import face_for
from scalesim.jobs.compare.pictures import Look
from scalesim.jobs.frames import FrameSource, still_of
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.views import Contestant
from scalesim.result import Box, Layer, Part, Viewer
from scalesim.signal.rectify.by_frame import ROWS, sampled_picture, view_by_frame
from scalesim.signal.rectify.sampled import reduced, sampled
from scalesim.signal.rectify.view import View

TALL = 1080
"""Dot rows a photo is shown in: those of the glass."""


@dataclass(frozen=True)
class PhotoGiven:
    """A photo of the tube, read when its turn comes: its label, and what gives it."""

    label: str
    load: Callable[[], Photo]


@dataclass(frozen=True, eq=False)
class Photographed:
    """A photo laid on the frame it shows.

    Parameters:  label, frame : of both; view : where the picture lies in it; load : gives the photo
    """

    label: str
    frame: str
    view: View
    load: Callable[[], Photo]

    def to_dict(self) -> dict[str, Any]:
        """Return what the document says of it."""
        return {
            "label": self.label,
            "frame": self.frame,
            "n": self.view.points,
            "residual_pixels": self.view.residual,
        }

    def straight(self, aspect: float) -> NDArray[np.uint8]:
        """Return it straightened over the whole picture, (1080, columns, 3) codes; black outside it."""
        codes = self.load().codes
        codes = codes if codes.dtype == np.uint8 else (codes >> 8).astype(np.uint8)
        columns = round(TALL * aspect)
        factor = max(1, int(self.view.lines_apart(1) / TALL))
        small = reduced(codes.astype(np.float32), factor)
        v, u = np.meshgrid(
            (np.arange(TALL) + 0.5) / TALL, (np.arange(columns) + 0.5) / columns, indexing="ij"
        )
        at = self.view.to_photo(np.stack([u.ravel(), v.ravel()], axis=1))
        seen = np.nan_to_num(sampled(small, (at + 0.5) / factor - 0.5))
        return np.floor(np.clip(seen, 0, 255) + 0.5).astype(np.uint8).reshape(TALL, columns, 3)


def photographed(
    given: Iterable[PhotoGiven],
    sources: Sequence[FrameSource],
    chains: Mapping[str, Chain],
    aspect: float,
    failed: dict[str, str],
) -> tuple[Photographed, ...]:
    """Return every photo on every frame it shows; one that shows none is added to `failed` with the reason.

    Registered to the mean of what the chains make of a frame, or to the frame itself without chains.
    Raises: ParameterError for two photos of one label
    """
    found: list[Photographed] = []
    photos = list(given)
    labels = [each.label for each in photos]
    for label in labels:
        if labels.count(label) > 1:
            raise ParameterError(f"photo '{label}' is given twice; give every photo a label of its own")
    reasons: dict[str, list[str]] = {label: [] for label in labels}
    shows: set[str] = set()
    for source in sources if photos else ():  # one frame at a time: there may be many
        for picture in _picture(source, chains, aspect):
            for each in photos:
                try:
                    view = view_by_frame(each.load().light, picture, aspect=aspect, name=each.label)
                except NotIdentifiable as reason:
                    reasons[each.label].append(str(reason))
                    continue
                shows.add(each.label)
                found.append(Photographed(each.label, source.name, view, each.load))
    for label in labels:
        if label not in shows:
            why = reasons[label][0].partition(";")[0] if reasons[label] else "none could be read"
            failed[label] = f"{label}: the photo shows none of the frames ({why})"
    return tuple(found)


def _picture(source: FrameSource, chains: Mapping[str, Chain], aspect: float) -> list[NDArray]:
    """Return what a photo of a frame is registered to; none where it cannot be read or no chain fits."""
    seen = []
    try:
        clip = still_of(source)
    except ScalesimError:  # told with the frame
        return []
    for chain in chains.values():
        try:
            seen.append(sampled_picture(luma(predict(clip, chain, metrics=[]).landed), ROWS, aspect))
        except ScalesimError:  # told with the pair
            continue
    if not chains and clip.frame is not None:
        seen.append(sampled_picture(luma(clip.frame), ROWS, aspect))
    return [np.mean(seen, axis=0)] if seen else []


def _lines_of(each: Contestant) -> NDArray:
    return each.view.values


def photo_part(number: int, look: Look, photos: Sequence[Photographed]) -> Part:
    """Return the photos of a frame beside its predictions and captures.

    Parameters:  number : of the frame, from 0; photos : at least one, all of this frame
    """
    face = face_for([each.placed.raster for each in look.contestants], look.tube)
    place = Box(0, 0, face.width, face.height)
    stem = f"pictures/{number + 1:02d}-photo"
    layers = [
        Layer(
            f"photo-{number + 1}-{k + 1}",
            f"{stem}-{k + 1}",
            each.straight(face.width / face.height),
            f"{each.label}, photo",
            f"Straightened by what it shows (n = {each.view.points} places, {each.view.residual or 0:.1f} "
            "pixels "
            "off); exposure and white are the camera's.",
            place,
        )
        for k, each in enumerate(photos)
    ]
    count = len(layers)
    layers += [
        Layer(
            f"photo-{number + 1}-beside-{each.number + 1}",
            f"{stem}-beside-{each.number + 1}",
            partial(_lines_of, each),
            each.label,
            "As its lines land, without a beam.",
            place,
        )
        for each in look.contestants
    ]
    said = (
        "Photos are shown, not measured: what lens, exposure and white did to them is in them. Read how many "
        "lines they hold, and which prediction explains them, with scalesim glass."
    )
    viewer = Viewer(
        f"{look.name}, photographed",
        "Photos against predictions",
        (),
        tuple(layers),
        (layers[0].id, layers[count].id if len(layers) > count else layers[-1].id),
        (face.width / 2, face.height / 2),
        mode="wipe",
    )
    return Part(
        f"{look.name}, photographed", (said,), (viewer,), anchor=f"frame-{number + 1}-photos", listed=False
    )
