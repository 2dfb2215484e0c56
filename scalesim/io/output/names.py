"""Names of files and folders that every system takes."""

from __future__ import annotations

import re

_RESERVED = {
    *("con", "prn", "aux", "nul", "conin$", "conout$"),
    *(f"{port}{n}" for port in ("com", "lpt") for n in "123456789¹²³"),
}
_FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f]')
_LONGEST_NAME = 60


def safe_name(text: str) -> str:
    """Return a text as part of a file name on any system: letters, digits, dot, dash, underscore."""
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", text).strip("-.")[:_LONGEST_NAME].rstrip("-.") or "picture"
    return f"x-{name}" if _is_reserved(name) else name


def not_for_windows(name: str) -> str:
    """Return why Windows takes no file of this name, "" when it does.

    Source: Microsoft, "Naming Files, Paths, and Namespaces" (from memory): < > : " / \\ | ? * and control
    characters are forbidden, a last dot or space is dropped, devices' names are reserved with any ending.
    """
    if found := _FORBIDDEN.search(name):
        return f"has {found.group()!r}"
    if name[-1:] in (".", " "):
        return "ends with a dot or a space, which Windows drops"
    return "is the name of a device" if _is_reserved(name) else ""


def _is_reserved(name: str) -> bool:
    return name.split(".")[0].rstrip(" ").lower() in _RESERVED
