"""NumPy files and WAV as traces."""

from __future__ import annotations

import struct
import wave
import zipfile
import zlib
from pathlib import Path
from tokenize import TokenError
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import shown
from scalesim.core.limits import TRACE_VALUES
from scalesim.core.trace import Trace
from scalesim.errors import ReadError
from scalesim.io.traces.clock import Clock, looks_like_time

MOST_CHANNELS = 4
_DAMAGED = (
    ValueError,
    EOFError,
    KeyError,
    NotImplementedError,
    RuntimeError,
    SyntaxError,
    TypeError,
    OverflowError,
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    TokenError,
)
"""What a damaged or foreign file makes NumPy and the zip reader raise."""
_TIMES, _STEPS, _RATES = (
    ("time", "t", "times"),
    ("dt", "interval", "interval_s"),
    ("rate", "sample_rate", "fs"),
)


def read_numpy(path: Path) -> Trace:
    """Return the trace of a .npy (samples, or columns with time first) or .npz (arrays by name).

    Of a .npz `time` (or `t`) are seconds, `dt` or `rate` one number; every other array is a channel.
    Raises: ReadError for anything else
    """
    name = shown(path.name)
    try:
        loaded = np.load(path, allow_pickle=False, mmap_mode="r")
        if isinstance(loaded, np.lib.npyio.NpzFile):
            with loaded:
                return _named(loaded, name)
        return _plain(np.asarray(loaded), name)
    except ReadError:
        raise
    except _DAMAGED as error:
        reason = " ".join(str(error).split())[:80]
        raise ReadError(
            f"{name}: is no NumPy file that can be read ({reason}); save it with numpy.save"
        ) from None
    except MemoryError:
        raise ReadError(f"{name}: claims more values than there is memory; save a shorter record") from None


def _plain(values: NDArray, name: str) -> Trace:
    _check_kind(values, name)
    if values.ndim == 2 and values.shape[0] < values.shape[1]:
        values = values.T
    table = values[:, None] if values.ndim == 1 else values
    if table.ndim != 2 or table.shape[0] < 2 or not 1 <= table.shape[1] <= MOST_CHANNELS + 1:
        raise ReadError(
            f"{name}: has shape {tuple(values.shape)}; it must be samples, or samples by 1 to "
            "5 columns, time first"
        )
    timed = table.shape[1] > 1 and looks_like_time(np.asarray(table[:, 0], dtype=np.float64))
    interval, start = float("nan"), 0.0
    if timed:
        interval, start = _step_of(np.asarray(table[:, 0], dtype=np.float64), name)
    first = 1 if timed else 0
    channels = {
        f"column {k + 1}": _volts(table[:, k], f"column {k + 1}", name)
        for k in range(first, min(table.shape[1], first + MOST_CHANNELS))
    }
    columns = tuple(range(first + 1, first + 1 + len(channels)))
    return Trace(name, interval, channels, start, columns, (f"{name}: values are taken as volts",))


def _named(held: Any, name: str) -> Trace:
    interval, start = float("nan"), 0.0
    channels: dict[str, NDArray] = {}
    for key in held.files[:16]:
        _check_size(held, key, name)
        values = held[key]
        _check_kind(values, name)
        word = key.lower()
        if word in _TIMES and values.ndim == 1 and len(values) > 1:
            interval, start = _step_of(values.astype(np.float64), name)
        elif word in (*_STEPS, *_RATES) and values.size == 1:
            number = float(values.reshape(-1)[0])
            if not (np.isfinite(number) and number > 0):
                raise ReadError(f"{name}: {key} is {number:g}; it must be a positive number")
            interval = number if word in _STEPS else 1 / number
        elif values.ndim == 1 and len(values) > 1 and len(channels) < MOST_CHANNELS:
            channels[key] = _volts(values, key, name)
    if not channels or len({len(values) for values in channels.values()}) != 1:
        raise ReadError(
            f"{name}: must hold 1 to {MOST_CHANNELS} channels of one length, and time, dt or rate"
        )
    return Trace(
        name,
        interval,
        channels,
        start,
        tuple(range(1, 1 + len(channels))),
        (f"{name}: values are taken as volts, time as seconds",),
    )


def _check_size(held: Any, key: str, name: str) -> None:
    """Refuse an entry that would unpack to more than may be held."""
    for info in held.zip.infolist():
        if info.filename in (key, f"{key}.npy") and info.file_size > 8 * TRACE_VALUES:
            raise ReadError(f"{name}: {key} is too large; save a shorter record")


def _check_kind(values: NDArray, name: str) -> None:
    if values.dtype.kind not in "iuf":
        raise ReadError(f"{name}: holds {values.dtype} instead of numbers; save volts as floats")
    if values.size > TRACE_VALUES:
        raise ReadError(
            f"{name}: more than {TRACE_VALUES // 1_000_000} million values; save a shorter record"
        )


def _step_of(times: NDArray, name: str) -> tuple[float, float]:
    clock = Clock(1.0, name, 0)
    clock.add(times)
    return clock.settled()


def _volts(values: NDArray, label: str, name: str) -> NDArray:
    if values.ndim != 1 or not (np.abs(values.astype(np.float64)) < 1e30).all():
        raise ReadError(
            f"{name}: {label} holds what is no finite number; save the volts of one unbroken record"
        )
    return np.ascontiguousarray(values, dtype=np.float32)


def read_wav(path: Path) -> Trace:
    """Return the trace of a WAV of 8, 16, 24 or 32 bits; full scale is taken as 1 V, since WAV has no volts.

    Raises: ReadError for a damaged file, or one that is not linear PCM
    """
    name = shown(path.name)
    try:
        with wave.open(str(path), "rb") as file:
            count, width, rate = file.getnchannels(), file.getsampwidth(), file.getframerate()
            frames = min(file.getnframes(), path.stat().st_size // max(1, count * width) + 1)
            if not 1 <= count <= 8 or width not in (1, 2, 3, 4) or rate <= 0 or frames < 2:
                raise ReadError(
                    f"{name}: {count} channels of {8 * width} bits at {rate} Hz is no trace; use PCM"
                )
            if frames * count > TRACE_VALUES:
                raise ReadError(f"{name}: more than {TRACE_VALUES // 1_000_000} million values; record less")
            data = file.readframes(frames)
    except ReadError:
        raise
    except (wave.Error, EOFError, ValueError, RuntimeError, OverflowError) as error:
        reason = " ".join(str(error).split())[:80] or "it ends too early"
        raise ReadError(f"{name}: is no WAV that can be read ({reason}); save it as 16-bit PCM") from None
    values = _pcm(data[: len(data) // (count * width) * count * width], width).reshape(-1, count)
    if len(values) < 2:
        raise ReadError(f"{name}: holds {len(values)} samples; record again")
    kept = range(min(count, MOST_CHANNELS))
    channels = {f"channel {k + 1}": np.ascontiguousarray(values[:, k]) for k in kept}
    note = (
        f"{name}: {rate / 1e3:g} kS/s; full scale is taken as 1 V, since a WAV has no volts: trust no level"
    )
    return Trace(name, 1 / rate, channels, 0.0, tuple(k + 1 for k in kept), (note,))


def _pcm(data: bytes, width: int) -> NDArray:
    """Return float32 values -1..1."""
    if width == 1:
        return (np.frombuffer(data, np.uint8).astype(np.float32) - 128) / 128
    if width == 3:
        parts = np.frombuffer(data, np.uint8).reshape(-1, 3).astype(np.int32)
        whole = (parts[:, 0] << 8 | parts[:, 1] << 16 | parts[:, 2] << 24) >> 8
        return (whole / 2**23).astype(np.float32)
    kind = "<i2" if width == 2 else "<i4"
    return (np.frombuffer(data, kind) / 2.0 ** (8 * width - 1)).astype(np.float32)
