"""What an article asks to be placed: a folder or picture, and what of it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from urllib.parse import unquote

from scalesim.errors import ParameterError, nearest

SELECTS = {
    "cover": "the figure that opens its page",
    "look": "the pictures of a frame or part",
    "viewer": "linked pictures to move, enlarge and wipe",
    "picture": "one picture",
    "plot": "one plot",
    "table": "one table",
    "said": "what was found, in its own words",
    "chains": "the chains, to copy",
}
"""What of an answer can be placed."""

OPTIONS = {
    "of": "only the pictures with these names, with commas between",
    "zoom": "dots for a line and a sample, or for each, such as 3x2",
    "crop": "top,left,height,width in lines and samples of the picture",
}
"""How it is placed; pictures only."""

MOST_ZOOM = 32


@dataclass(frozen=True)
class Reference:
    """A place in an article where something of an earlier answer is shown.

    Parameters:
        place : folder or picture file as it was written, with forward slashes
        caption : the author's words; label : what the text calls it, "" for nothing
        line : of the article, from 1
        select, which : one of `SELECTS` ("" for the folder's own choice), and which of them
        of, zoom, crop : see `OPTIONS`; () and (0, 0) when they were not given
    """

    place: str
    caption: str
    label: str
    line: int
    select: str = ""
    which: str = ""
    of: tuple[str, ...] = ()
    zoom: tuple[int, int] = (0, 0)
    crop: tuple[int, ...] = field(default=())

    @property
    def asked(self) -> str:
        """The place and what of it, as an article writes it, without the options."""
        return (
            f"{self.place}#{self.select}{'=' * bool(self.which)}{self.which}" if self.select else self.place
        )


def reference(source: str, caption: str, label: str, line: int, name: str) -> Reference:
    """Return what the source of a picture in an article asks for.

    Parameters:  source : percent-escaped, such as "outputs/compare-fair#look=moss_tower&zoom=2";
        name : of the article, for errors
    Raises: ParameterError for an address elsewhere, an unknown or doubled key, or a value out of range
    """
    at = f"{name} line {line}"
    if re.match(r"[a-zA-Z][a-zA-Z0-9+.-]+:", source):
        raise ParameterError(
            f"{at}: '{source[:60]}' is an address elsewhere; "
            "place a result folder or a picture file beside it"
        )
    place, _, fragment = source.partition("#")
    place = unquote(place).replace("\\", "/")
    if not place:
        raise ParameterError(
            f"{at}: a picture needs a result folder, such as ![caption](outputs/compare-fair)"
        )
    found: dict[str, str] = {}
    for part in filter(None, fragment.split("&")):
        key, _, value = part.partition("=")
        valid = [*SELECTS, *OPTIONS]
        if key not in valid:
            raise ParameterError(f"{at}: '{key[:40]}' cannot be placed; {nearest(key, valid)}")
        if key in found or (key in SELECTS and any(each in SELECTS for each in found)):
            raise ParameterError(f"{at}: '{key}' is a second choice; place each in a picture of its own")
        found[key] = unquote(value.replace("+", " "))
    select = next((key for key in found if key in SELECTS), "")
    return Reference(
        place=place.rstrip("/") or place,
        caption=" ".join(caption.split()),
        label=label.strip(),
        line=line,
        select=select,
        which=found.get(select, ""),
        of=tuple(filter(None, (each.strip() for each in found.get("of", "").split(",")))),
        zoom=_zoom(found["zoom"], at) if "zoom" in found else (0, 0),
        crop=_crop(found["crop"], at) if "crop" in found else (),
    )


def _zoom(text: str, at: str) -> tuple[int, int]:
    match = re.fullmatch(r"(\d{1,3})(?:x(\d{1,3}))?", text)
    down, across = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
    if not (1 <= down <= MOST_ZOOM and 1 <= across <= MOST_ZOOM):
        raise ParameterError(
            f"{at}: zoom is '{text[:20]}'; it must be whole dots from 1 to {MOST_ZOOM}, such as 3 or 3x2"
        )
    return down, across


def _crop(text: str, at: str) -> tuple[int, ...]:
    parts = text.split(",")
    if len(parts) != 4 or not all(part.strip().isdecimal() and len(part) < 8 for part in parts):
        raise ParameterError(
            f"{at}: crop is '{text[:30]}'; it must be top,left,height,width in whole numbers"
        )
    crop = tuple(int(part) for part in parts)
    if not crop[2] or not crop[3]:
        raise ParameterError(f"{at}: crop is '{text[:30]}'; its height and width must be at least 1")
    return crop
