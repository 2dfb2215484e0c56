"""`Camera`: what a camera is in physical quantities, and how large it sees a scan line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from scalesim.errors import ParameterError, nearest
from scalesim.schema import Param, from_keys, param, settle, toml_document

_RATE = Param("number", bare=True, unit="pictures/s", above=0, at_most=2000, remedy="such as 60")


@dataclass(frozen=True, kw_only=True)
class Camera:
    """A camera in front of a tube.

    Parameters:
        name : what it is, in words
        pixel_um : from pixel to pixel on the sensor, micrometres, as the file is stored
        focal_mm : real focal length of the lens
        rows, columns : of a photo, held level
        nearest_mm : nearest distance from the lens to what is sharp
        distance_mm : where it stands, from the lens to the glass; None for "tell me"
        film_rates : pictures a second that its films can have; film_rows : rows of a film
        slowest_s, fastest_s : shutter times it can be set to
        readout_ms : from the first row of a photo to the last (rolling shutter)
    Raises: ParameterError naming key, value, limit and remedy
    """

    name: str = param(type="text", doc="what it is, in words", remedy="such as 'my phone'")
    pixel_um: float = param(
        type="number",
        bare=True,
        unit="µm",
        at_least=0.3,
        at_most=50,
        doc="from pixel to pixel on the sensor, as the file is stored",
        remedy="sensor width over the photo's columns: 1.4 in many phones, 4 to 6 in larger cameras",
    )
    focal_mm: float = param(
        type="number",
        bare=True,
        unit="mm",
        at_least=1,
        at_most=2000,
        doc="real focal length of the lens",
        remedy="the photo's own data tell it: 4 to 7 in many phones",
    )
    rows: int = param(
        type="whole", unit="pixels", at_least=100, at_most=30000, doc="rows of a photo, held level"
    )
    columns: int = param(
        type="whole", unit="pixels", at_least=100, at_most=30000, doc="columns of a photo, held level"
    )
    nearest_mm: float = param(
        100.0,
        type="number",
        bare=True,
        unit="mm",
        above=0,
        at_most=10000,
        doc="nearest distance that is sharp, from the lens",
    )
    distance_mm: float | None = param(
        None,
        type="number",
        bare=True,
        unit="mm",
        above=0,
        at_most=100000,
        doc="where it stands, from the lens to the glass",
    )
    film_rates: tuple[float, ...] = param(
        (24.0, 25.0, 30.0, 60.0),
        type="list",
        of=_RATE,
        item="number",
        fewest=1,
        most=20,
        doc="pictures a second that its films can have",
    )
    film_rows: int = param(
        1080, type="whole", unit="pixels", at_least=100, at_most=30000, doc="rows of a film, held level"
    )
    slowest_s: float = param(
        0.25, type="number", bare=True, unit="s", above=0, at_most=60, doc="longest shutter it can be set to"
    )
    fastest_s: float = param(
        0.0005,
        type="number",
        bare=True,
        unit="s",
        above=0,
        at_most=1,
        doc="shortest shutter it can be set to",
    )
    readout_ms: float | None = param(
        None,
        type="number",
        bare=True,
        unit="ms",
        at_least=0,
        at_most=1000,
        doc="from the first row of a photo to the last, where it is known",
    )

    def __post_init__(self) -> None:
        settle(self, f"camera '{self.name}'")
        for key, low, high in (
            ("fastest_s", self.fastest_s, self.slowest_s),
            ("focal_mm", self.focal_mm, self.distance_mm),
        ):
            if high is not None and low >= high:
                other = "slowest_s" if key == "fastest_s" else "distance_mm"
                raise ParameterError(
                    f"camera '{self.name}': {key} is {low:g}; it must be below {other}, {high:g}"
                )

    @classmethod
    def from_toml(cls, text: str) -> Camera:
        """Return the camera a TOML text describes; ParameterError for unknown, missing or bad keys."""
        return from_keys(cls, toml_document(text, "camera file", "the README's example"), "camera")

    def pixels(self, length_mm: float, distance_mm: float) -> float:
        """Return how many pixels a length on the glass takes.

        Source: the thin lens, magnification f / (d - f)
        """
        return length_mm * 1000 / self.pixel_um * self.focal_mm / (distance_mm - self.focal_mm)

    def distance_for(self, length_mm: float, pixels: float) -> float:
        """Return the distance at which a length on the glass takes so many pixels, mm; `pixels` undone."""
        return self.focal_mm * (1 + length_mm * 1000 / (pixels * self.pixel_um))


CAMERAS: Mapping[str, Camera] = MappingProxyType(
    {
        "phone": Camera(
            name="a phone's main camera",
            pixel_um=1.4,
            focal_mm=4.3,
            rows=3024,
            columns=4032,
            nearest_mm=100,
            film_rates=(24, 25, 30, 60, 120, 240),
            film_rows=1080,
            slowest_s=0.25,
            fastest_s=1 / 8000,
        ),
        "system": Camera(
            name="a camera with a 50 mm lens",
            pixel_um=3.9,
            focal_mm=50,
            rows=4000,
            columns=6000,
            nearest_mm=350,
            film_rates=(24, 25, 50, 60, 120),
            film_rows=2160,
            slowest_s=30,
            fastest_s=1 / 4000,
        ),
    }
)
"""Usual cameras by key, their figures typical of their kind: common practice, no published source."""


def camera_named(key: str) -> Camera:
    """Return a usual camera by its key; ParameterError for another."""
    if key not in CAMERAS:
        raise ParameterError(
            f"camera is {key!r}; {nearest(str(key), CAMERAS)}, or give a file ending in .toml"
        )
    return CAMERAS[key]
