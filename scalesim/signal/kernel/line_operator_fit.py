"""Methods fitted to the lines themselves, in code values, whichever values they mix."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.kernel.field_lines import FieldLines
from scalesim.signal.kernel.method_fit import Trial

_PHASES = np.arange(-6, 7) / 32
_TILTS = np.array([0.0, -0.03, 0.03, -0.08, 0.08, -0.15, 0.15, -0.25, 0.25, -0.4, 0.4])
"""Source lines by which the first and the last line move against the middle."""
_FINE_PHASES, _FINE_TILTS = _PHASES[2:-2], np.array([0.0, -0.08, 0.08, -0.15, 0.15, -0.25, 0.25])
_FINER = (0.3, 0.1, 0.03)
_BEAM = 3
MOST = 12.0
"""A line's misfit counts for at most this many times the usual line's."""
_MOST_BLEND = 0.45


def predicted(field: FieldLines, trial: Trial) -> NDArray:
    """Return what a method makes of the codes, (lines, cells), in code values of code 0 and 1."""
    method, size = trial.method, (field.codes, field.lines, trial.step, trial.phase)
    if not (trial.taps_in_code or trial.held):
        return field.to_code(method.applied(*size), trial.domain)
    between = field.to_code(method.between(*size), trial.domain)
    filtered = method.combined(between)
    if not trial.held:
        return filtered
    # lines 2r of the intermediate ones, and the means of their neighbours
    own, beside = between[2:-2:2], (between[1:-3:2] + between[3:-1:2]) / 2
    held = np.where(beside > own, np.maximum(filtered, own), np.minimum(filtered, own))
    return field.to_code(held, "code")


def measured(field: FieldLines, rows: NDArray, trial: Trial) -> Trial:
    """Return the trial with its misfit on the lines themselves, in code values, after lift and gain.

    A line counts for at most `MOST` times the usual one: a few disturbed or wrongly rounded
    lines must not decide between methods.
    """
    return replace(trial, **explained(field, rows, predicted(field, trial)))


def explained(field: FieldLines, rows: NDArray, whole: NDArray) -> dict[str, Any]:
    """Return misfit, lift, gain and blend of predicted lines against the captured ones.

    Parameters:
        rows : captured lines that count
        whole : (lines, cells) as `predicted` returns them
    """
    y = field.values("code")[rows]
    p = whole[rows]
    p_mean, y_mean = p.mean(), y.mean()
    spread = float(np.vdot(p, p)) - p.size * p_mean**2
    gain = (float(np.vdot(p, y)) - p.size * p_mean * y_mean) / max(spread, 1e-9)
    blend = 0.0
    if field.blended:
        gain, blend = _blend(y - y_mean, p - p_mean, bent(whole)[rows])
        p = p + blend * bent(whole)[rows]
    lift = float(y_mean - gain * p.mean())
    rest = y - gain * p - lift
    per_line = np.einsum("lc,lc->l", rest, rest)
    misfit = float(np.minimum(per_line, MOST * np.median(per_line)).sum())
    return {"misfit": misfit, "lift": lift, "gain": gain, "blend": blend}


def bent(lines: NDArray) -> NDArray:
    """Return the mean of the lines above and below, less the line itself; edges replicate."""
    from scipy.ndimage import correlate1d

    bent: NDArray = correlate1d(lines, (0.5, -1.0, 0.5), axis=0, mode="nearest")
    return bent


def _blend(y: NDArray, p: NDArray, bend: NDArray) -> tuple[float, float]:
    """Return (gain, blend) of y = gain * (p + blend * bend), the blend kept within 0 .. `_MOST_BLEND`."""
    bend = bend - bend.mean()
    pp, pb, bb = (float(np.vdot(a, b)) for a, b in ((p, p), (p, bend), (bend, bend)))
    py, by = float(np.vdot(p, y)), float(np.vdot(bend, y))
    own, other = np.linalg.solve([[pp, pb], [pb, bb + 1e-9 * pp]], [py, by])
    blend = float(np.clip(other / own, 0.0, _MOST_BLEND)) if own > 0 else 0.0
    mixed = p + blend * bend
    return float(np.vdot(mixed, y)) / max(float(np.vdot(mixed, mixed)), 1e-9), blend


def refined(field: FieldLines, rows: NDArray, trial: Trial, *, free_step: bool) -> Trial:
    """Return the trial at its best phase, and step if free, on the lines themselves.

    Where whole lines are chosen a free step is found to about a tenth of a line only: see `settled`.
    """
    trial = measured(field, rows, trial)
    if trial.method.base.steady:
        return _newton(field, rows, trial, free_step)
    tilts = _TILTS if free_step else _TILTS[:1]
    return _searched(field, rows, [trial], tilts, _PHASES)[0]


def settled(field: FieldLines, rows: NDArray, trial: Trial) -> Trial:
    """Return a trial of chosen whole lines at a free step after finer and finer grids; others as they are."""
    if trial.method.base.steady:
        return trial
    best = [trial]
    for share in _FINER:
        best = _searched(field, rows, best, share * _FINE_TILTS, share * _FINE_PHASES)
    return best[0]


def turned(trial: Trial, lines: int, tilt: float, phase: float) -> Trial:
    """Return the trial with its last line moved by `tilt` source lines against the middle, all by `phase`."""
    change = 2 * tilt / lines
    return replace(trial, step=trial.step + change, phase=trial.phase + phase - tilt)


def _searched(
    field: FieldLines, rows: NDArray, starts: list[Trial], tilts: NDArray, phases: NDArray
) -> list[Trial]:
    """Try phases and tilts on a grid, because weights of chosen whole lines jump; return the best few.

    Of phases that choose the same lines the middle one is taken.
    """
    found = list(starts)
    for start in starts:
        for tilt in tilts:
            tried = [measured(field, rows, turned(start, field.lines, float(tilt), float(p))) for p in phases]
            least = min(t.misfit for t in tried)
            alike = [t for t in tried if t.misfit <= least * (1 + 1e-9) + 1e-12]
            found.append(alike[len(alike) // 2])
    found.sort(key=lambda t: t.misfit)
    # a start is only better than its neighbours if it is strictly so: they are middles
    least = found[0].misfit * (1 + 1e-9) + 1e-12
    middles = [t for t in found if t.misfit <= least and t not in starts]
    return [*middles, *(t for t in found if t not in middles)][:_BEAM]


def _shown(field: FieldLines, trial: Trial) -> NDArray:
    """Return what a trial predicts with the recorder's blend of lines in it."""
    lines = predicted(field, trial)
    return lines + trial.blend * bent(lines) if trial.blend else lines


def _newton(field: FieldLines, rows: NDArray, trial: Trial, free_step: bool) -> Trial:
    small = 1e-3
    y = field.values("code")[rows].ravel()
    best = trial
    for _ in range(5):
        here = _shown(field, best)[rows].ravel()
        columns = [np.ones_like(here), here]
        for tilt, phase in ((0.0, small), (small, 0.0))[: 2 if free_step else 1]:
            moved = _shown(field, turned(best, field.lines, tilt, phase))[rows].ravel()
            columns.append(best.gain * (moved - here) / small)
        design = np.stack(columns, axis=1)
        solution = np.linalg.lstsq(design, y - best.lift - best.gain * here, rcond=None)[0]
        phase, tilt = (*np.clip(solution[2:], -0.1, 0.1), 0.0)[:2]
        improved = _shortened(field, rows, best, float(tilt), float(phase))
        done = best.misfit - improved.misfit < 1e-6 * best.misfit
        best = improved
        if done:
            break
    return best


def _shortened(field: FieldLines, rows: NDArray, trial: Trial, tilt: float, phase: float) -> Trial:
    """Return the trial after a step of Gauss-Newton, halved until it helps; itself if nothing does."""
    for share in (1.0, 0.5, 0.25):
        moved = measured(field, rows, turned(trial, field.lines, share * tilt, share * phase))
        if moved.misfit < trial.misfit:
            return moved
    return trial
