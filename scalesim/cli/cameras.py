"""A camera by its key or its file, as the command line names it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scalesim.core.camera import Camera


def camera_of(text: str) -> Camera:
    """Return the usual camera of a key, or the one of a TOML file; raise ParameterError or ReadError."""
    from scalesim.core.camera import Camera, camera_named
    from scalesim.errors import ParameterError
    from scalesim.io.documents import read_toml_text

    if not text.strip().lower().endswith(".toml"):
        return camera_named(text)
    path = Path(text.strip())
    content = read_toml_text(path, "camera", "name a usual camera: phone, system")
    try:
        return Camera.from_toml(content)
    except ParameterError as error:
        raise ParameterError(f"{path.name}: {error}") from None
