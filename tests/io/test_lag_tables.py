"""Bench logs as people write them: what each column is, in which unit, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scalesim.core.lag_table import LagTable
from scalesim.errors import ReadError
from scalesim.io.tables.lag import read_lag


def read(folder: Path, text: str | bytes) -> LagTable:
    path = folder / "log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_lag(path)


@pytest.mark.parametrize(
    ("text", "times", "lags"),
    [
        ("time_s,lag_ms\n0,16.1\n1,16.2\n", [0, 1], [16.1, 16.2]),
        ("Time (min);Lag (µs)\n0,5;16700\n1;17100\n", [30, 60], [16.7, 17.1]),
        ("t\tlag\n0\t0.0167\n1\t0.0171\n", [0, 1], [16.7, 17.1]),
        ("time,lag\n0,16700\n1,17100\n", [0, 1], [16.7, 17.1]),
        ("0 16.7\n1 16.9\n2 17\n", [0, 1, 2], [16.7, 16.9, 17]),
        ("lag ms\n16,7\n17,2\n", None, [16.7, 17.2]),
        ("16.7\n", None, [16.7]),
        ("n,lag ms\n1,16.7\n2,17\n", None, [16.7, 17]),
        ("time,lag (ms)\n23:59:58,16\n23:59:59.5,17\n00:00:00,18\n", [86398, 86399.5, 86400], [16, 17, 18]),
        ("time,lag\n0,16.7 ms\n1,0.0172 s\n2,17000 us\n", [0, 1, 2], [16.7, 17.2, 17]),
        ("# by hand\ntime,lag_ms\n0,16\n# pause\n9,17\n", [0, 9], [16, 17]),
        ('"time_s","lag_ms"\n"0","16"\n"1","17"\n', [0, 1], [16, 17]),
        ("lag_ms,time_s\n16,0\n17,1\n", [0, 1], [16, 17]),
        # separators within quotes (RFC 4180), as spreadsheets write them: the head names the same columns
        ('time,"lag, ms"\n0,"16,7"\n1,"17,2"\n', [0, 1], [16.7, 17.2]),
        ('"t s","lag ms","a ""b"", c"\n"0","16","x, y"\n"1","17","z"\n', [0, 1], [16, 17]),
        ("\ufefftime_s,lag_ms\r\n0,16\r\n1,17\r\n", [0, 1], [16, 17]),
    ],
)
def test_written_in_many_ways(
    tmp_path: Path, text: str, times: list[float] | None, lags: list[float]
) -> None:
    found = read(tmp_path, text)
    assert found.unit == "ms" and found.lags == pytest.approx(lags)
    assert (found.times is None) == (times is None)
    if times is not None:
        assert found.times == pytest.approx(times)


def test_what_was_guessed_is_told(tmp_path: Path) -> None:
    notes = " ".join(read(tmp_path, "0 16.7\n1 16.9\n").notes)
    assert "taken as time in s" in notes and "taken as lag in ms" in notes and "between blanks" in notes
    assert "no unit" not in " ".join(read(tmp_path, "time_s,lag_ms\n0,16\n1,17\n").notes)


def test_rows_without_a_reading_stay_as_gaps(tmp_path: Path) -> None:
    found = read(tmp_path, "time_s,lag_ms\n0,16\n1,\n2,nan\n3,-\n4,-0.2\n5,17\n")
    assert np.isnan(found.lags[1:4]).all() and found.lags[4] == -0.2 and len(found.lags) == 6


def test_devices_by_label_and_by_column(tmp_path: Path) -> None:
    found = read(tmp_path, "time_s,lag_ms,device\n0,16,Box A\n0,33,Box B\n1,17,Box A\n")
    assert found.names == ("Box A", "Box B") and found.labels is not None
    assert found.labels.tolist() == [0, 1, 0]
    wide = read(tmp_path, "time s,box A ms,box B ms\n0,16,33\n1,17,34\n")
    assert wide.names == ("box A", "box B") and wide.lags.tolist() == [16, 17, 33, 34]
    runs = read(tmp_path, "run,time_s,lag_ms\n1,0,16\n2,0,17\n")
    assert runs.names == ("1", "2")


def test_a_first_row_with_an_empty_cell_is_a_reading(tmp_path: Path) -> None:
    """Titles in another language, remarks that most rows lack, and a device that was read one row later."""
    head = "Zeit (s);graue Kiste (ms);blaue Kiste (ms);Bemerkung\n"
    found = read(tmp_path, head + "0,4;21,1;;\n1,9;20,9;9,5;Kaffee\n2,7;21,4;10,1;\n3,5;21,2;10,6;\n")
    assert found.names == ("graue Kiste", "blaue Kiste") and found.unit == "ms"
    assert found.lags[:4].tolist() == [21.1, 20.9, 21.4, 21.2] and np.isnan(found.lags[4])
    assert found.times is not None and found.times[:4] == pytest.approx([0.4, 1.9, 2.7, 3.5])


def test_titles_of_several_words(tmp_path: Path) -> None:
    """A time of reading is a time, and columns of fractions are no labels though their titles say box."""
    for unit in (" ms", ""):
        rows = "".join(f"{k}.5;21.{k}{unit};9.{k}{unit}\n" for k in range(9))
        found = read(tmp_path, "Time of reading;Grey box;Blue box\n" + rows)
        assert found.names == ("Grey box", "Blue box") and found.lags[0] == pytest.approx(21.0)
        assert found.times is not None and found.times[0] == pytest.approx(0.5)


def test_times_of_day_with_short_seconds(tmp_path: Path) -> None:
    found = read(tmp_path, "when,lag\n20:59:9.5,16\n20:59:11,17\n")
    assert found.times is not None and np.diff(found.times).tolist() == [1.5]


def test_places_in_the_picture(tmp_path: Path) -> None:
    found = read(tmp_path, "time,lag_ms,position\n0,8,top\n1,16,middle\n2,24,Bottom\n")
    assert found.heights is not None and found.heights.tolist() == [0, 0.5, 1] and not found.names
    percent = read(tmp_path, "time,lag_ms,height\n0,8,0\n1,16,50\n2,24,100\n")
    assert percent.heights is not None and percent.heights.tolist() == [0, 0.5, 1]


def test_lag_in_frames(tmp_path: Path) -> None:
    found = read(tmp_path, "time,lag frames\n0,1.2\n1,1.3\n")
    assert found.unit == "frames" and found.lags.tolist() == [1.2, 1.3]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("hello\nworld\n", "no rows of numbers"),
        ("time,lag\n1,nan\n2,nan\n", "no number"),
        ("t,lag\n" + "".join(f"{k},{17000 if k == 5 else 17}\n" for k in range(30)), "mixed units"),
        ("t,lag\n" + "".join(f"{k},{17000 if k % 3 else 17}\n" for k in range(99)), "mixed units"),
        ("time,lag,height\n0,16,250\n1,17,3\n", "top, middle, bottom"),
        ("time,lag\n0,1.2 frames\n1,16 ms\n", "mixes frames and time"),
        (b"\x00\x01\x02\x03" * 99, "no text"),
        (b"\xff\xfe\x00", "lines of text|no rows|no text"),
        ("x" * 200_000, "lines of text"),
    ],
)
def test_refused_in_one_line(tmp_path: Path, text: str | bytes, said: str) -> None:
    with pytest.raises(ReadError, match=said) as caught:
        read(tmp_path, text)
    assert "\n" not in str(caught.value) and len(str(caught.value)) < 300


def test_lag_near_zero_is_no_other_unit(tmp_path: Path) -> None:
    """One device that adds nothing beside one that adds a frame, labelled or not, and a few strays."""
    random = np.random.RandomState(4)
    near = [f"{k},A,{abs(random.normal(0, 0.05)):.3f}" for k in range(100)]
    far = [f"{k},B,{random.normal(17, 1):.3f}" for k in range(300)]
    assert len(read(tmp_path, "t,box,lag\n" + "\n".join(near + far)).lags) == 400
    plain = [row.replace(",A", "").replace(",B", "") for row in near + far]
    assert len(read(tmp_path, "t,lag\n" + "\n".join(plain)).lags) == 400


def test_no_such_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(ReadError, match=r"no such log|folder"):
            read_lag(path)


def test_a_million_rows_stream(tmp_path: Path) -> None:
    """Rows are read in parts: what is held is the numbers, 8 bytes a column."""
    count = 1_000_000
    row = "{},{}.5\n"
    path = tmp_path / "long.csv"
    path.write_text("time_s,lag_ms\n" + "".join(row.format(k, k % 17) for k in range(count)))
    calls: list[int] = []
    found = read_lag(path, calls.append)
    assert len(found.lags) == count and found.lags[16] == 16.5 and len(calls) >= 2


def test_a_comma_in_quotes_leaves_the_head_its_columns(tmp_path: Path) -> None:
    """Frames were taken for milliseconds: the head had one cell less than the rows seemed to have."""
    found = read(tmp_path, 'time,lag frames,device\n0,1.5,"box, new"\n1,1.25,"box, new"\n')
    assert found.unit == "frames" and found.lags.tolist() == [1.5, 1.25] and found.names == ("box, new",)
