"""A tube as a photo showed it, as a file that later predictions take."""

from __future__ import annotations

from dataclasses import fields

from scalesim.tube.display import Display


def display_toml(display: Display) -> str:
    """Return a display as the TOML file that `--display` takes."""
    lines = ["# Beam, growth, sharpness and black as a photo showed them; the rest as it was given."]
    for each in fields(display):
        value = getattr(display, each.name)
        if each.name == "aspect":
            value = f"{display.aspect.numerator}:{display.aspect.denominator}"
        if isinstance(value, str):
            value = '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
        elif isinstance(value, tuple):
            value = f"[{', '.join(f'{number:g}' for number in value)}]"
        elif not isinstance(value, int | float):
            continue
        else:
            value = f"{value:g}"
        lines.append(f"{each.name} = {value}")
    return "\n".join(lines) + "\n"
