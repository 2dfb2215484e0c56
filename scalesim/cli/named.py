"""What a command takes by a key or as a TOML file of the user's own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from scalesim.core.camera import Camera
    from scalesim.tube.display import Display

T = TypeVar("T")


def display_of(text: str) -> Display:
    """Return the shipped display of a key, or the one of a TOML file; raise ParameterError or ReadError."""
    from scalesim.tube.display import Display, display_named

    return _of(text, "display", display_named, Display.from_toml, "name a shipped display")


def camera_of(text: str) -> Camera:
    """Return the usual camera of a key, or the one of a TOML file; raise ParameterError or ReadError."""
    from scalesim.core.camera import Camera, camera_named

    return _of(text, "camera", camera_named, Camera.from_toml, "name a usual camera: phone, system")


def _of(text: str, what: str, named: Callable[[str], T], from_toml: Callable[[str], T], missing: str) -> T:
    from scalesim.errors import ParameterError
    from scalesim.io.documents import read_toml_text

    if not text.strip().lower().endswith(".toml"):
        return named(text)
    path = Path(text.strip())
    content = read_toml_text(path, what, missing)
    try:
        return from_toml(content)
    except ParameterError as error:
        raise ParameterError(f"{path.name}: {error}") from None
