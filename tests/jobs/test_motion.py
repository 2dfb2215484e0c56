"""`motion` on captures made in memory, of which everything is known: each kind of event by itself."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.charts.counter.draw import counter_frames
from scalesim.charts.counter.layout import layout
from scalesim.core.clip import Clip, still_clip
from scalesim.core.luma import Luma
from scalesim.core.picture import Picture
from scalesim.core.raster import BOTTOM_FIRST, PROGRESSIVE, TOP_FIRST, Raster
from scalesim.errors import ParameterError
from scalesim.jobs.motion.answer import MotionFound
from scalesim.jobs.motion.motion import motion
from scalesim.signal.counts import poisson_limits
from scalesim.signal.played.kinds import kind_of
from scalesim.signal.played.reduced import reduced, small_of

RATE = Fraction(60)
LINES = 240


def source(count: int, first: int = 0) -> list[NDArray[np.uint8]]:
    """Return frames of the counter chart of 240 lines."""
    return list(counter_frames(layout("240p"), count, first))


def clip_of(frames: Sequence[NDArray], order: str | None = None, rate: Fraction = RATE) -> Clip:
    """Return a clip of luma, as a file gives it."""
    fields = {None: PROGRESSIVE, "top": TOP_FIRST, "bottom": BOTTOM_FIRST}[order]
    lines, samples = frames[0].shape
    raster = Raster(lines // len(fields), samples, rate * len(fields), fields)

    def lumas() -> Iterator[Luma]:
        yield from (Luma(frame, k / float(rate)) for k, frame in enumerate(frames))

    def pictures() -> Iterator[Picture]:
        raise AssertionError("colours are not needed")

    return Clip(raster, pictures, "capture", lumas=lumas, length=len(frames) * len(fields))


def torn(above: NDArray, below: NDArray, line: float) -> NDArray:
    frame = above.copy()
    frame[int(line) :] = below[int(line) :]
    share = line - int(line)
    frame[int(line)] = np.round(share * above[int(line)].astype(float) + (1 - share) * below[int(line)])
    return frame


def mixed(one: NDArray, other: NDArray, weight: float) -> NDArray:
    return np.asarray(np.round((1 - weight) * one.astype(float) + weight * other), np.uint8)


def kinds(found: MotionFound) -> list[str]:
    return [event.kind for event in found.events]


def moved() -> list[MotionFound]:
    """Return answers of every kind, for the list of sentences."""
    frames = source(80)
    rolling = [torn(frames[k], frames[k + 1], 10 + 3 * k) for k in range(70)]
    order = [*range(20), 18, 19, *range(20, 30), 29, 29, *range(40, 70), *range(10)]
    black = np.full((LINES, 720), 16, np.uint8)
    played = scene(60)
    return [
        motion(clip_of(frames)),
        motion(clip_of(rolling)),
        motion(clip_of([black, *(frames[k] for k in order)])),
        motion(clip_of([mixed(a, b, 0.5) for a, b in zip(frames[::2], frames[1::2], strict=True)])),
        motion(clip_of(fields(30))),
        motion(clip_of(fields(30, after_weaving((1, 2, 1))), "top")),
        motion(clip_of(fields(30, after_weaving((1, 6, 1))), "top")),
        motion(clip_of([np.rot90(frame) for frame in frames[:30]])),
        motion(
            clip_of([*played[:20], played[19], torn(played[20], played[21], 80), *played[23:50]]),
            source=clip_of(played),
        ),
        motion(clip_of([played[0]] * 40), source=clip_of([played[0]] * 50)),
        motion(clip_of(played), source=clip_of([255 - frame for frame in played])),
    ]


def test_the_title_is_the_finding() -> None:
    """What was counted, of how many; nothing where nothing could be read."""
    titles = [found.title for found in moved()]
    assert titles[:4] == [
        "80 frames: nothing torn, repeated or dropped",
        "70 frames: 70 torn",
        "74 frames: 2 repeated, 1 out of order, 10 source pictures never shown",
        "40 frames: 40 mixed",
    ]
    assert "What moves cannot be told from this capture" in titles


def test_a_clean_capture_has_no_events() -> None:
    found = motion(clip_of(source(120)))
    assert found.found and not found.undecided and found.events == []
    assert list(found.timeline.first) == list(range(120))
    assert found.sentences()[0] == (
        "Of 120 frames that could be read none is torn, repeated or out of order; every source picture is "
        "shown."
    )
    document = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert (document["frames"], document["repeated"], document["dropped"], document["torn"]) == (
        120,
        0,
        0,
        [],
    )
    assert document["tear_rate_hz"] == 0 and document["source_rate_hz"] == pytest.approx(60)


@pytest.mark.parametrize("line", [3.0, 17.25, 120.5, 199.0, 237.0])
def test_a_tear_is_found_at_its_line(line: float) -> None:
    frames = source(40)
    frames[20] = torn(frames[20], frames[21], line)
    found = motion(clip_of(frames))
    assert kinds(found) == ["torn"]
    event = found.events[0]
    assert (event.frame, event.source, event.other) == (20, 20, 21)
    assert event.line == pytest.approx(line, abs=0.1)
    assert found.to_dict()["torn"] == [{"frame": 20, "line": pytest.approx(line, abs=0.1)}]


def test_a_tear_nearer_than_two_lines_to_the_edge_is_not_claimed() -> None:
    frames = source(40)
    frames[20] = torn(frames[20], frames[21], 239.0)
    assert motion(clip_of(frames)).events == []


def test_two_tears_in_one_frame_are_both_told() -> None:
    frames = source(40)
    frames[20] = torn(torn(frames[20], frames[21], 60.0), frames[22], 180.0)
    found = motion(clip_of(frames))
    assert [(e.kind, e.line, e.source, e.other) for e in found.events] == [
        ("torn", 60.0, 20, 21),
        ("torn", 180.0, 21, 22),
    ]
    assert found.counts["torn"] == 1  # pictures, not tears


def test_repeats_and_drops_are_counted_and_named() -> None:
    frames = source(60)
    shown = [*range(10), 9, *range(10, 30), *range(33, 60)]
    found = motion(clip_of([frames[k] for k in shown]))
    assert [(e.kind, e.frame, e.source, e.count) for e in found.events] == [
        ("repeated", 10, 9, 1),
        ("dropped", 31, 30, 3),
    ]
    document = found.to_dict()
    assert document["repeated"] == 1 and document["repeats"] == [{"frame": 10, "source": 9}]
    assert document["dropped"] == 3 and document["drops"] == [{"frame": 31, "source": 30, "count": 3}]


def test_a_source_picture_that_only_a_part_of_a_frame_shows_is_not_dropped() -> None:
    frames = source(60)
    captured = [*frames[:30], torn(frames[30], frames[31], 100.0), *frames[32:]]
    assert kinds(motion(clip_of(captured))) == ["torn"]


def test_pictures_out_of_order_are_told() -> None:
    frames = source(40)
    order = [*range(20), 21, 20, *range(22, 40)]
    found = motion(clip_of([frames[k] for k in order]))
    assert [(e.kind, e.frame) for e in found.events] == [("out of order", 21)]


def test_the_count_goes_on_where_it_wraps() -> None:
    found = motion(clip_of(source(60, first=4096 - 30)))
    assert found.events == [] and found.timeline.first[-1] - found.timeline.first[0] == 59


def test_a_player_that_loops_drops_nothing() -> None:
    frames = source(200)
    found = motion(clip_of([*frames, *frames[:40]]))
    assert [(e.kind, e.frame, e.source, e.other) for e in found.events] == [("jump", 200, 199, 0)]


@pytest.mark.parametrize("weight", [0.25, 0.5, 0.75])
def test_mixtures_have_their_weights(weight: float) -> None:
    frames = source(41)
    found = motion(clip_of([mixed(a, b, weight) for a, b in pairwise(frames)]))
    mixtures = [event for event in found.events if event.kind == "mixed"]
    assert len(mixtures) == 40
    assert [(e.source, e.other) for e in mixtures] == [(k, k + 1) for k in range(40)]
    assert np.abs(np.array([e.weight for e in mixtures]) - weight).max() < 0.03


def test_a_capture_of_something_else_is_undecided() -> None:
    random = np.random.RandomState(1)
    noise = [random.randint(0, 256, (LINES, 720)).astype(np.uint8) for _ in range(30)]
    stripes = [np.tile(np.repeat(random.randint(16, 236, 60), 12), (LINES, 1)).astype(np.uint8)] * 30
    for frames in (noise, stripes, [np.zeros((LINES, 720), np.uint8)] * 30):
        found = motion(clip_of(frames))
        assert found.undecided and found.events == []
        assert found.sentences()[0].startswith("Cannot tell: the counter chart is not in the capture")
        document = found.to_dict()
        assert document["torn"] is None and document["why"]["torn"]


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_turned_capture_is_told_how_to_turn_it_back(quarters: int) -> None:
    found = motion(clip_of([np.rot90(frame, -quarters).copy() for frame in source(30)]))
    assert found.undecided and f"turned by {90 * quarters} degrees" in found.sentences()[1]


def test_frames_before_the_chart_begins_are_unread() -> None:
    black = np.full((LINES, 720), 16, np.uint8)
    found = motion(clip_of([black] * 50 + source(60)))
    assert [(e.kind, e.frame, e.count) for e in found.events] == [("unread", 0, 50)]
    assert found.seconds == pytest.approx(1.0)


def test_what_is_missing_behind_unread_frames_is_not_called_dropped() -> None:
    frames = source(60)
    frames[30:33] = [np.full((LINES, 720), 16, np.uint8)] * 3
    assert kinds(motion(clip_of(frames))) == ["unread"]


def fields(count: int, change: Callable[[NDArray], NDArray] = lambda frame: frame) -> list[NDArray]:
    """Return woven frames of 480 lines whose fields show a source picture each."""
    return [change(frame) for frame in counter_frames(layout("480i"), count)]


def after_weaving(taps: Sequence[float]) -> Callable[[NDArray], NDArray]:
    """Return a vertical filter over the lines of a woven frame."""

    def change(frame: NDArray) -> NDArray:
        values = np.pad(frame.astype(float), ((1, 1), (0, 0)), mode="edge")
        mean = sum(w * values[k : k + len(frame)] for k, w in enumerate(taps)) / sum(taps)
        return np.asarray(np.round(mean), np.uint8)

    return change


@pytest.mark.parametrize("order", ["top", None])
def test_every_field_shows_its_own_picture(order: str | None) -> None:
    found = motion(clip_of(fields(40), order, Fraction(30000, 1001)))
    assert found.scan == "top" and found.marked == (order is not None)
    assert list(found.timeline.first) == list(range(80)) and found.events == []
    assert found.rate == pytest.approx(59.94, abs=0.01)
    said = " ".join(found.sentences())
    assert "show the same source picture in 0 of 40 frames" in said
    assert (
        "Source pictures pass at 59.940 ± 0.759 a second" in said
    )  # one field follows the other by half a frame


def test_a_torn_field_is_told_in_lines_of_the_field() -> None:
    frames = fields(40)
    frames[20][100::2] = frames[21][100::2]  # the top field from field line 50 on
    found = motion(clip_of(frames, "top"))
    event = found.events[0]
    assert (event.kind, event.frame, event.parity, event.line) == ("torn", 20, 0, 50.0)


def test_fields_mixed_evenly_after_weaving_are_said_and_not_guessed() -> None:
    found = motion(clip_of(fields(40, after_weaving((1, 2, 1))), "top"))
    assert set(kinds(found)) == {"fields mixed"} and found.counts["fields mixed"] == 40
    said = " ".join(found.sentences())
    assert "mixed by a filter after weaving" in said and "cannot be told" in said
    assert found.timeline.of(5)[0].numbers == (10, 11) and found.rate == 60


def test_fields_mixed_less_keep_their_own_number() -> None:
    found = motion(clip_of(fields(40, after_weaving((1, 6, 1))), "top"))
    weights = [event.weight or 0 for event in found.events if event.kind == "fields mixed"]
    assert len(weights) == 80 and np.allclose(weights[0::2], 0.25, atol=0.03)
    assert np.allclose(weights[1::2], 0.75, atol=0.03)
    assert list(found.timeline.first) == list(range(80))


def test_a_pattern_is_told_with_its_n() -> None:
    frames = source(100)
    shown = [k - k // 20 for k in range(100)]  # every 20th frame repeats the one before
    found = motion(clip_of([frames[k] for k in shown]))
    assert "One repeat every 20 frames, 0.333 s (n 4, 20 to 20 frames apart)." in found.sentences()
    assert found.to_dict()["patterns"][0]["every_s"] == pytest.approx(1 / 3)
    rate, _ = found.passing or (0, 0)
    assert rate == pytest.approx(57, abs=1)


def test_a_step_that_happens_once_is_not_none_in_a_hundred() -> None:
    """Half of 260 frames repeat and one step is of two: 1 of 259 is under 1 %, not "0 %"."""
    frames = source(140)
    shown = [k // 2 + (k > 201) for k in range(260)]
    (said,) = [each for each in motion(clip_of([frames[k] for k in shown])).sentences() if "Steps" in each]
    assert "+2 in under 1 %" in said and "0 %" not in said.replace("50 %", "")


@pytest.mark.parametrize(
    ("shown", "words"),
    [
        (
            [k for k in range(50) for _ in range(2 + k % 2)],
            "Source pictures stay for 2 and 3 frames in turn (n 48).",
        ),
        (
            [5 * k // 6 for k in range(120)],
            "Source pictures stay for 1, 1, 1, 1 and 2 frames in turn (n 98).",
        ),
        ([k // 2 for k in range(100)], "Every source picture stays for 2 frames (n 48)."),
        (
            [min(k, 30) if k < 100 else k - 69 for k in range(130)],
            "The picture stands still, longest for 70 frames (1.17 s) from frame 30 on.",
        ),
    ],
)
def test_how_long_pictures_stay(shown: list[int], words: str) -> None:
    """24 into 60, 50 into 60, 30 into 60, and a freeze of 70 frames: by hand."""
    frames = source(105)
    said = motion(clip_of([frames[k] for k in shown])).sentences()
    assert words in said
    assert not any("after frame" in each or "1.7 frames" in each for each in said)
    steady = motion(clip_of(frames[:60])).sentences()
    assert not any("stay" in each or "stands" in each for each in steady)


def test_a_chart_that_cannot_be_read_is_no_clean_capture() -> None:
    """Means of three pictures: it was said that none of 0 frames is torn, and that every picture is shown."""
    frames = np.array(source(62)).astype(np.float32)
    means = [np.round(frames[k : k + 3].mean(axis=0)).astype(np.uint8) for k in range(60)]
    found = motion(clip_of(means))
    assert found.undecided and "none of its pictures can be read" in found.sentences()[0]
    document = found.to_dict()
    assert document["torn"] is None and "can be read" in document["why"]["torn"]


def test_a_rolling_tear_has_a_speed() -> None:
    frames = source(80)
    captured = [
        torn(frames[k], frames[k + 1], 10 + 3.5 * (k - 10)) if 10 <= k < 70 else frames[k] for k in range(79)
    ]
    found = motion(clip_of(captured))
    assert "The tear rolls down by 3.5 lines from one frame to the next (n 59)." in found.sentences()
    assert found.counts["torn"] == 60


def test_rates_have_exact_limits() -> None:
    """Of 3 events: 0.6187 and 8.7673. Source: Garwood (1936), by SciPy's chi2 quantiles."""
    low, high = poisson_limits(3)
    assert (low, high) == (pytest.approx(0.6187, abs=1e-4), pytest.approx(8.7673, abs=1e-4))
    assert poisson_limits(0) == (0.0, pytest.approx(3.6889, abs=1e-4))


def test_the_files_tell_every_event_and_every_line() -> None:
    frames = source(40)
    frames[20] = torn(frames[20], frames[21], 100.0)
    files = motion(clip_of(frames)).files()
    texts = {
        name: file.content("") if callable(file.content) else file.content for name, file in files.items()
    }
    events = list(csv.DictReader(io.StringIO(texts["events"])))
    assert [(row["event"], row["frame"], row["line"]) for row in events] == [("torn", "20", "100")]
    lines = [row for row in csv.DictReader(io.StringIO(texts["lines"])) if row["frame"] == "20"]
    told = [(row["from_line"], row["to_line"], row["source"]) for row in lines]
    assert told == [("0", "100", "20"), ("100", "240", "21")]


def test_stills_and_loose_chains_are_refused() -> None:
    from scalesim.chain import Chain

    still = still_clip(np.zeros((240, 720, 3), np.float32))
    with pytest.raises(ParameterError, match="is one picture"):
        motion(still)
    with pytest.raises(ParameterError, match="give the source too"):
        motion(clip_of(source(3)), chain=Chain("line-drop lines=120"))
    with pytest.raises(ParameterError, match="interlaced"):
        motion(clip_of(fields(3), "top"), source=clip_of(source(3)))


# Against the clip that was played


def scene(count: int, step: int = 3) -> list[NDArray[np.uint8]]:
    """Return a picture of random soft blobs that pans."""
    from scipy.ndimage import gaussian_filter

    values = gaussian_filter(np.random.RandomState(4).rand(LINES, 640 + step * count), 6)
    wide = (16 + 219 * (values - values.min()) / np.ptp(values)).astype(np.uint8)
    return [wide[:, step * k : step * k + 640].copy() for k in range(count)]


def test_a_source_clip_tells_tears_repeats_and_drops() -> None:
    played = scene(90)
    shown = [*range(5, 30), 29, *range(30, 50), *range(52, 80)]
    captured = [played[k] for k in shown]
    captured[60] = torn(played[shown[60]], played[shown[60] + 1], 90.0)
    found = motion(clip_of(captured), source=clip_of(played))
    assert found.timeline.first[0] == 5
    told = [(e.kind, e.frame, e.source) for e in found.events if e.kind != "torn"]
    assert told == [("repeated", 25, 29), ("dropped", 46, 50)]
    tears = [e for e in found.events if e.kind == "torn"]
    assert [(e.frame, e.source) for e in tears] == [(60, shown[60])]
    low, high = tears[0].between or (0, 0)
    assert abs((tears[0].line or 0) - 90) <= 1 and low <= 90 <= high
    assert set(found.by_kind) == {"pan"} and found.by_kind["pan"]["torn"] == 1


def test_a_still_source_hides_what_cannot_be_seen() -> None:
    played = [scene(1)[0]] * 60
    found = motion(clip_of([played[0]] * 50), source=clip_of(played))
    assert found.events == [] and "hardly changes" in " ".join(found.sentences())


def test_another_clip_is_undecided() -> None:
    other = [255 - frame for frame in scene(40)]
    found = motion(clip_of(scene(40)), source=clip_of(other))
    assert found.undecided and found.sentences()[0].startswith("Cannot tell: no stretch of the source clip")


def test_levels_may_be_others() -> None:
    played = scene(60)
    darker = [np.round(0.7 * frame + 20).astype(np.uint8) for frame in played]
    assert motion(clip_of(darker), source=clip_of(played)).events == []


def test_kinds_of_motion() -> None:
    wide = scene(30)
    tall = [np.ascontiguousarray(frame.T) for frame in wide]
    smalls = [small_of(frame) for frame in (*wide[:2], *tall[:2])]
    assert kind_of(smalls[0], smalls[0]) == "still"
    assert kind_of(smalls[0], smalls[1]) == "pan"
    assert kind_of(smalls[2], smalls[3]) == "scroll"
    assert kind_of(smalls[0], small_of(np.roll(wide[0], 200, axis=1)[::-1])) == "cut"
    moved = wide[0].copy()
    moved[100:160, 100:200] = np.roll(moved[100:160, 100:200], 20, axis=0)[::-1]
    assert kind_of(smalls[0], small_of(moved)) == "other"


def test_stretches_of_a_line_are_means_of_what_they_cover() -> None:
    luma = np.random.RandomState(2).randint(0, 256, (3, 100)).astype(np.uint8)
    fine = np.repeat(luma.astype(float), 64, axis=1)  # 100 samples of 64, in 64 stretches of 100
    assert np.allclose(reduced(luma), fine.reshape(3, 64, 100).mean(axis=2), atol=1e-3)


def test_the_count_tells_the_order_of_fields_against_a_wrong_mark() -> None:
    found = motion(clip_of(fields(40), "bottom"))
    assert found.scan == "top" and found.swapped and found.events == []
    assert "by its count the top field is the earlier" in " ".join(found.sentences())
