"""What the rows of a study say together, asked of the database: nothing here holds all of them.

Contestants stand in groups of a chain alone and on each display; `group` is how many there are of each, and a
chain is asked for by its number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scalesim.rows.layout import quoted
from scalesim.rows.rows import Measured, Rows

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclass(frozen=True)
class Spread:
    """How a measure of one chain is spread over all frames: n, its quantiles, and its worst frame.

    Between two values a quantile is linear (type 7 of Hyndman and Fan, "Sample quantiles in statistical
    packages", The American Statistician 50, 1996).
    """

    n: int
    quantiles: tuple[float, ...]
    worst: float
    source: int
    frame: int

    @property
    def median(self) -> float:
        """The middle one."""
        return self.quantiles[2]


def rows_of(rows: Rows, group: int, source: int, frame: int) -> Iterator[Measured]:
    """Yield the rows of a frame, on no display."""
    return rows.rows(f"AND s.place=? AND frame=? AND c.place % {group} = 0", (source, frame))


def first_of_each(rows: Rows, source: int, width: int) -> list[int]:
    """Return the first measured frame in every run of so many."""
    found = rows.select("MIN(frame)", "AND s.place=? GROUP BY frame/?", (source, width))
    return sorted(frame for (frame,) in found)


def counts(rows: Rows) -> dict[int, int]:
    """Return source -> how many of its frames were measured."""
    return dict(rows.select("s.place, COUNT(DISTINCT frame)", "GROUP BY s.place"))


def modes(rows: Rows) -> dict[int, str]:
    """Return source -> the mode it was read in."""
    return dict(rows.select("s.place, MIN(mode_in)", "GROUP BY s.place"))


def spread(rows: Rows, group: int, chain: int, metric: str, *, higher: bool) -> Spread | None:
    """Return how a metric of a chain is spread; None where it was never had.

    Parameters:  higher : whether more of it is better; the worst is the other end, the first there is
    """
    own, place = quoted(metric), chain * group
    condition = f"AND c.place=? AND {own} IS NOT NULL"
    ((n,),) = rows.select("COUNT(*)", condition, (place,))
    if not n:
        return None
    ordered = (float(value) for (value,) in rows.select(own, f"{condition} ORDER BY {own}", (place,)))
    order = f"ORDER BY {own}{'' if higher else ' DESC'}, s.place, frame LIMIT 1"
    quantiles = _quantiles(ordered, n)
    ((worst, source, frame),) = rows.select(f"{own}, s.place, frame", f"{condition} {order}", (place,))
    return Spread(n, quantiles, float(worst), source, frame)


def _quantiles(ordered: Iterator[float], n: int) -> tuple[float, ...]:
    places = [share * (n - 1) for share in QUANTILES]
    wanted = {int(at) + more for at in places for more in (0, 1)}
    known = {k: value for k, value in enumerate(ordered) if k in wanted}
    return tuple(
        known[int(at)] + (at - int(at)) * (known.get(int(at) + 1, known[int(at)]) - known[int(at)])
        for at in places
    )


def curve(
    rows: Rows, group: int, source: int, chain: int, metric: str, width: int
) -> Sequence[tuple[float, float]]:
    """Return (mean frame, mean value) of a metric over runs of so many frames of a clip."""
    own = quoted(metric)
    condition = f"AND s.place=? AND c.place=? AND {own} IS NOT NULL GROUP BY frame / {width} ORDER BY 1"
    found = rows.select(f"AVG(frame), AVG({own})", condition, (source, chain * group))
    return [(float(frame), float(value)) for frame, value in found]
