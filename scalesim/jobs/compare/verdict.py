"""A ranking in a reviewer's words: why a chain has its place, and the verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scalesim.jobs.compare.place import Place
from scalesim.metrics import key_of


def place_reason(chain: str, medians: Mapping[str, Mapping[str, float | None]], by: tuple[str, ...]) -> str:
    """Return why a chain has its place: in what it is best and worst of those it is ranked with."""
    if len(medians) == 1:
        return "the only one on its screen"
    best, worst = [], []
    for key in map(key_of, by):
        values = {name: m[key.name] for name, m in medians.items() if m[key.name] is not None}
        own = values.get(chain)
        if own is None or len(values) < 2:
            continue
        known = [value for value in values.values() if value is not None]
        low, high = min(known), max(known)
        if high - low <= 1e-6:
            continue
        good, bad = (high, low) if key.better == "higher" else (low, high)
        shown = " ".join(key.number(own))
        if abs(own - good) <= 1e-6:
            best.append(f"{key.best} ({shown})")
        elif abs(own - bad) <= 1e-6:
            worst.append(f"{key.worst} ({shown})")
    said = []
    if best:
        said.append(", ".join(best))
    if worst:
        said.append("but " + ", ".join(worst) if best else ", ".join(worst))
    return "; ".join(said) or "in the middle by every measure"


def comparison_sentences(
    ranking: Sequence[Place], warnings: Sequence[str], failed: Mapping[str, str]
) -> list[str]:
    """Return the verdict: the first of each raster and why, then what to keep in mind."""
    said = []
    rasters = list(dict.fromkeys(place.raster for place in ranking))
    for raster in rasters:
        members = [place for place in ranking if place.raster == raster]
        firsts = [place for place in members if place.rank == 1]
        frames = members[0].frames
        over = f"{frames} frame" + ("s" if frames != 1 else "")
        if len(members) == 1:
            said.append(f"On {raster}, there is one chain only: {members[0].chain}.")
        elif len(firsts) > 1:
            names = ", ".join(place.chain for place in firsts)
            said.append(f"On {raster}, {names} share the first place over {over}.")
        else:
            said.append(f"On {raster}, {firsts[0].chain} comes first over {over}: {firsts[0].reason}.")
    if len(rasters) > 1:
        said.append("Screens of different lines are ranked apart, unless the source is the reference.")
    said += list(warnings)
    if failed:
        said.append(f"{len(failed)} could not be done: {'; '.join(f'{k} ({v})' for k, v in failed.items())}")
    return said
