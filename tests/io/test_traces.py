"""Traces as oscilloscopes write them: every way of writing the same five samples gives the same trace."""

from __future__ import annotations

import io
import wave
from pathlib import Path

import numpy as np
import pytest

from scalesim.errors import ReadError
from scalesim.io.traces.read import read_trace

VOLTS = (0.0, -0.3, 0.25, 0.7, 0.0125, 0.1)


def _rows(separator: str = ",", decimal: str = ".", scale: float = 1.0, seconds: float = 1e-6) -> str:
    lines = [f"{k * seconds:.9g}{separator}{v * scale:.6g}" for k, v in enumerate(VOLTS)]
    return "\n".join(lines).replace(".", decimal) + "\n"


WRITTEN = {
    "plain": _rows(),
    "head": "Time (s),Channel 1 (V)\n" + _rows(),
    "two lines of head": "x-axis,1\nsecond,Volt\n" + _rows(),
    "millivolts": "Time(s),CH1(mV)\n" + _rows(scale=1000),
    "microseconds": "Time (us);A (V)\n" + _rows(";", seconds=1.0),
    "decimal comma": "Zeit (s);Kanal (V)\n" + _rows(";", ","),
    "tabs and commas": "s\tV\n" + _rows("\t", ","),
    "blanks": _rows("  "),
    "trailing separators": _rows().replace("\n", ",\n"),
    "quotes": "".join(f'"{k * 1e-6:.7f}","{v:g}"\n' for k, v in enumerate(VOLTS)),
    "windows lines": _rows().replace("\n", "\r\n"),
    "blank lines at the end": _rows() + "\n\n\n",
    "no last end of line": _rows().rstrip("\n"),
    "mark": "\ufeffTime (s),CH1 (V)\n" + _rows(),
    "facts beside the rows": "".join(
        f"{head},{k * 1e-6:.7f},{v:g}\n"
        for k, (head, v) in enumerate(
            zip(("Points,6", "Unit,V", "Probe,1", ",", ",", ","), VOLTS, strict=True)
        )
    ),
    "interval in the head": "Sample Interval,1e-06\nVolt\n" + "".join(f"{v:g}\n" for v in VOLTS),
    "rate in the head": "Sampling rate: 1 MSa/s\nCH1\n" + "".join(f"{v:g}\n" for v in VOLTS),
    "rows counted": "Increment,1.0E-06\nSequence,VOLT\n"
    + "".join(f"{k},{v:g}\n" for k, v in enumerate(VOLTS)),
    "a long head": "".join(f"Fact {k},yes\n" for k in range(20)) + "Time (s),CH1 (V)\n" + _rows(),
}


@pytest.mark.parametrize("how", WRITTEN)
def test_every_way_of_writing_gives_the_same_trace(how: str, tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_bytes(WRITTEN[how].encode("utf-8"))
    trace = read_trace(path)
    (values,) = trace.channels.values()
    assert values.dtype == np.float32 and np.allclose(values, VOLTS, atol=1e-6)
    assert trace.interval_s == pytest.approx(1e-6, rel=1e-6)
    assert any("columns between" in note for note in trace.notes)


def test_utf16_and_latin(tmp_path: Path) -> None:
    path = tmp_path / "scope.txt"
    for encoding in ("utf-16", "latin-1"):
        path.write_bytes(("Zeit µs\tKanal\n" + _rows("\t", seconds=1.0)).encode(encoding))
        assert read_trace(path).interval_s == pytest.approx(1e-6)


def test_four_channels_and_their_names(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    rows = "".join(f"{k * 1e-7:g},{k},{2 * k},{3 * k},{-k}\n" for k in range(50))
    path.write_text("Time,R,G,B,SYNC\ns,V,V,mV,V\n" + rows)
    trace = read_trace(path)
    assert list(trace.channels) == ["R", "G", "B", "SYNC"] and trace.columns == (2, 3, 4, 5)
    assert trace.channels["B"][10] == pytest.approx(0.03) and trace.channels["SYNC"][10] == -10


def test_a_rounded_time_column_is_read_as_even(tmp_path: Path) -> None:
    """Seven digits of time at 10 ns repeat themselves; the step is that of the whole record."""
    path = tmp_path / "scope.csv"
    path.write_text("".join(f"{k * 1e-8:.7f},{k % 7}\n" for k in range(5000)))
    assert read_trace(path).interval_s == pytest.approx(1e-8, rel=1e-3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("\n\n", "lines of text"),
        ("hello\nworld\n", "no rows of numbers"),
        ("".join(f"{k},1\n" for k in range(900)) + "end,of trace\n", "line 901 has 'end' in column 1"),
        ("0,1\n" * 3 + "0.1\n" + "0,1\n" * 60, "line 4 has 1 columns"),
        (
            "".join(f"{k / 10:g},1\n" for k in range(40)) * 2,
            "time runs back at line 41",
        ),
        ("".join(f"{k / 10:g},{k}\n" for k in (*range(40), *range(90, 130))), "time jumps by"),
        ("".join(f"{k / 10:g},nan\n" for k in range(40)), "row 1 "),
        ("".join(f"{k / 10:g},1\n" for k in range(40)) + "4,inf\n", "line 41"),
        ("\0" * 100, "no text"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(text: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text(text)
    with pytest.raises(ReadError, match=words) as caught:
        read_trace(path)
    assert "\n" not in str(caught.value)


def test_numpy_files(tmp_path: Path) -> None:
    time = np.arange(1000) * 1e-7
    volts = np.sin(np.arange(1000.0))
    np.save(tmp_path / "a.npy", np.stack([time, volts, 2 * volts], axis=1))
    trace = read_trace(tmp_path / "a.npy")
    assert trace.interval_s == pytest.approx(1e-7) and trace.columns == (2, 3)
    np.savez(tmp_path / "b.npz", dt=1e-7, csync=volts.astype(np.float32))
    trace = read_trace(tmp_path / "b.npz")
    assert trace.interval_s == pytest.approx(1e-7) and list(trace.channels) == ["csync"]
    np.save(tmp_path / "c.npy", volts)
    assert np.isnan(read_trace(tmp_path / "c.npy").interval_s)
    for wrong in (np.zeros((3, 3, 3)), np.array(["a", "b"]), np.full(10, np.nan), np.zeros(1)):
        np.save(tmp_path / "d.npy", wrong)
        with pytest.raises(ReadError):
            read_trace(tmp_path / "d.npy")


@pytest.mark.parametrize(("width", "kind"), [(1, "u1"), (2, "<i2"), (4, "<i4")])
def test_wav(width: int, kind: str, tmp_path: Path) -> None:
    """Half of full scale is 0.5 V, whatever the bits; WAV's 8 bits are unsigned."""
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(width)
        file.setframerate(192_000)
        half = 192 if width == 1 else 2 ** (8 * width - 2)
        file.writeframes(np.array([[half, half]] * 50).astype(kind).tobytes())
    (tmp_path / "slow.wav").write_bytes(held.getvalue())
    trace = read_trace(tmp_path / "slow.wav")
    assert trace.interval_s == pytest.approx(1 / 192_000) and len(trace.channels) == 2
    assert trace.channels["channel 2"][7] == pytest.approx(0.5)
    (tmp_path / "slow.wav").write_bytes(held.getvalue()[:30])
    with pytest.raises(ReadError):
        read_trace(tmp_path / "slow.wav")


def test_a_long_text_streams_and_tells_its_progress(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    block = "".join(f"{k * 1e-7:.7f},{k % 13 / 100:.3f}\n" for k in range(600_000))
    path.write_text("Time (s),CH1 (V)\n" + block)
    told: list[int] = []
    trace = read_trace(path, told.append)
    assert trace.samples == 600_000 and len(told) > 1 and sum(told) > 0.99 * len(block)
