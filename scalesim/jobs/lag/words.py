"""What the logs tell, in sentences."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from scalesim.core.spans import hz, span
from scalesim.jobs.lag.device import Device
from scalesim.jobs.lag.numbers import drift, ms, percent, rounded, two_digits
from scalesim.signal.laglog.study import SURE, Study
from scalesim.signal.laglog.verdict import FEWEST

CAUTIONS = (
    "A flashing test picture can trigger seizures: flash at most three times a second, keep others from the "
    "screen, and stop at the first discomfort. A photodiode goes in front of the glass: a tube holds lethal "
    "voltages when off, and nobody needs to open a set to measure lag.",
)
_MOST_SHOWN = 4
_COARSE_MS = 1.0
"""Step of the readings from which it is said."""


def sentences(devices: tuple[Device, ...]) -> list[str]:
    """Return what every device does, each with its n."""
    each = [_device_said(device) for device in devices]
    if len(devices) == 1:
        return each[0]
    least = min(devices, key=lambda device: device.study.quantiles[2])
    most = max(devices, key=lambda device: device.study.quantiles[2])
    first = (
        f"The median lag of {len(devices)} devices is {ms(least.study.quantiles[2])} ms ({least.label}) to "
        f"{ms(most.study.quantiles[2])} ms ({most.label})."
    )
    return [first, *(f"{device.label}: {' '.join(said)}" for device, said in zip(devices, each, strict=True))]


def _device_said(device: Device) -> list[str]:
    said = [range_said(device), *_steps(device), kind_said(device), *_next_wrap(device)]
    return [*said, *_aliases(device), *_longer(device)]


def range_said(device: Device) -> str:
    """Return the range, with what it rests on."""
    study = device.study
    low, five, middle, most, high = study.quantiles
    if study.count == 1:
        return f"One reading of {ms(middle)} ms; a single one tells no range."
    rate = f"{middle / study.frame_ms:.2f} frames at {hz(device.rate)}"
    height = ", for the middle of the picture" if device.corrected else ""
    astray = int(device.astray.sum())
    far = f", {astray} of them far from the rest" if astray else ""
    return (
        f"Lag was {ms(five)} to {ms(most)} ms in nine readings of ten (least {ms(low)}, most {ms(high)}), "
        f"median {ms(middle)} ms ({rate}){height}; n = {study.count} readings in {span(study.seconds)}{far}."
    )


def _steps(device: Device) -> list[str]:
    """Return how coarsely lag was read, where that hides what others tell."""
    step = device.study.step_ms
    if step < _COARSE_MS or device.study.count < FEWEST:
        return []
    return [f"Readings come in steps of {step:.3g} ms; what is finer they do not show."]


def kind_said(device: Device) -> str:
    """Return the kind of lag, with its confidence."""
    study = device.study
    found, values = study.found, study.found.chosen.values if study.found.chosen else {}
    sure = f"confidence {percent(found.confidence)}"
    if found.kind == "unknown" and found.why:
        return f"What kind of lag it is cannot be told: {found.why}."
    if found.kind == "unknown" and study.count >= FEWEST:
        return (
            f"What kind of lag it is cannot be told: too many of the {study.count} readings fit none of "
            "the kinds, as "
            "where lag spreads over more than a frame, or steps between more than two levels."
        )
    if found.kind == "unknown":
        readings = "1 reading" if study.count == 1 else f"{study.count} readings"
        return (
            f"What kind of lag it is cannot be told from {readings}; log at least {FEWEST}, "
            "better 60, one or two seconds apart."
        )
    if found.confidence < SURE:
        sure += f", next comes {found.runner_up}"
    if found.kind == "constant" and study.equal:
        return f"All {study.count} readings are equal; how finely they were read does not show ({sure})."
    if found.kind == "constant":
        return f"It is constant but for a spread of {ms(values['spread'])} ms{_bound(device)} ({sure})."
    if found.kind == "jitter":
        _, five, _, most, _ = study.quantiles
        wide = ms(max(most - five, study.step_ms))
        return (
            f"It varies from reading to reading, 90 % of them within {wide} ms, less than a frame"
            f"{_bound(device)} ({sure})."
        )
    if found.kind == "uniform":
        return (
            f"It lies anywhere within one frame of {ms(study.frame_ms)} ms without a pattern in time, as "
            "when what "
            f"is measured and what measures it are not locked ({sure})."
        )
    if found.kind == "two-level":
        return _two_said(device, sure)
    said = drift(study.drift_us_per_s or 0.0, study.drift_error_us_per_s)
    way = "rises" if (study.drift_us_per_s or 0) > 0 else "falls"
    jitter = ", with jitter on it" if found.kind == "drift+jitter" else ""
    wrap = span(study.wrap_s or 0.0)
    seen = (
        f"comes round every {wrap}"
        if study.wraps_seen
        else f"would come round every {wrap}; no wrap was logged"
    )
    return f"It drifts{jitter}: lag {way} by {said.lstrip('-')} and {seen} ({sure})."


def _bound(device: Device) -> str:
    most = device.study.drift_at_most_us_per_s
    return f"; a drift above {two_digits(most)} µs/s would have shown" if most is not None else ""


def _two_said(device: Device, sure: str) -> str:
    study = device.study
    values = study.found.chosen.values if study.found.chosen else {}
    apart = values["high"] - values["low"]
    frames = apart / study.frame_ms
    near = "one frame" if abs(frames - 1) < 0.03 else f"{frames:.2f} frames"
    jumps = int(values["jumps"])
    if (at := _only_step(study, values)) is not None:
        rises = np.median(study.lags[study.times >= at]) > np.median(study.lags[study.times < at])
        first, then = ("low", "high") if rises else ("high", "low")
        return (
            f"It steps once, from {ms(values[first])} to {ms(values[then])} ms, {near} apart, {span(at)} "
            f"after the first reading; whether it would step back the log does not show ({sure})."
        )
    return (
        f"It jumps between two levels, {ms(values['low'])} and {ms(values['high'])} ms, {near} apart; "
        f"{100 * values['share']:.0f} % of the readings are at the higher one, and it changed {jumps} times "
        f"({sure})."
    )


def _only_step(study: Study, values: Mapping[str, float]) -> float | None:
    """Return when lag goes over to the other level, s, where it does so just once; None elsewhere."""
    kept = ~study.astray
    high = study.lags[kept] > (values["low"] + values["high"]) / 2
    at = study.times[kept][1:][high[1:] != high[:-1]]
    return float(at[0]) if len(at) == 1 else None


def _next_wrap(device: Device) -> list[str]:
    study = device.study
    if study.next_wrap_s is not None and study.wrap_s is not None and study.next_wrap_s > 0:
        return [f"The next wrap comes {_give_or_take(study)} after the last reading."]
    if study.next_wrap_within_s:
        return [f"The first wrap comes within {span(study.next_wrap_within_s)} after the last reading."]
    return []


def _give_or_take(study: Study) -> str:
    """Return the time until the next wrap with twice its standard error."""
    ahead, error = study.next_wrap_s or 0.0, 2 * (study.next_wrap_error_s or 0.0)
    if ahead < 100:
        said, off = rounded(ahead, error)
        return f"{said} ± {off} s"
    return f"{span(ahead)} ± {span(float(f'{error:.1g}'))}"


def _aliases(device: Device) -> list[str]:
    study = device.study
    others = study.aliases_us_per_s
    if not others or study.interval_s is None:
        return []
    step = study.alias_step_us_per_s or 0.0
    if not study.aliased:
        return []
    shown = ", ".join(f"{each:.4g}" for each in others[:_MOST_SHOWN])
    more = f" and {len(others) - _MOST_SHOWN} more" if len(others) > _MOST_SHOWN else ""
    base = "no drift" if study.drift_us_per_s is None else f"{study.drift_us_per_s:.4g} µs/s"
    return [
        f"Readings exactly {_apart(study.interval_s)} apart cannot tell {base} from {shown} µs/s{more} "
        f"(every {step:.5g} µs/s): log at most 2 s apart, or at irregular times."
    ]


def _apart(seconds: float) -> str:
    return f"{seconds:.4g} s" if seconds < 100 else span(seconds)


def _longer(device: Device) -> list[str]:
    more, purpose = device.study.longer
    if not purpose or more <= 0:
        return []
    return [f"Log {span(more)} longer for a firm answer ({purpose})."]
