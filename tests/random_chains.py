"""Random chains for the round trips, built from every kind of stage there is."""

from __future__ import annotations

from hypothesis import strategies as st

from scalesim.chain import Chain
from scalesim.core.kernel import KERNELS
from scalesim.stages import Stage
from scalesim.stages.fields import Deinterlace, FieldOnly, Interlace, KeepField
from scalesim.stages.geometry import ANCHORS, Fit, Overscan, Position, Size
from scalesim.stages.level import Level, Quantise
from scalesim.stages.lines import FlickerFilter, LineAverage, LineDrop, LineRepeat
from scalesim.stages.resample import Resample

numbers = st.one_of(
    st.floats(-9, 9, allow_subnormal=False),
    st.fractions(-9, 9, max_denominator=64).map(float),
    st.integers(-9, 9),
)
positive = st.one_of(st.floats(0.001, 9), st.fractions("1/64", 9, max_denominator=64).map(float))
percents = st.floats(5, 400)
parities = st.sampled_from(["top", "bottom"])
kernels = st.sampled_from(list(KERNELS))
encodings = st.sampled_from(["code", "light"])
edges = st.sampled_from(["replicate", "black"])
awareness = st.sampled_from(["aware", "naive"])
counts = st.integers(1, 4320)
half_taps = st.lists(st.one_of(st.integers(-3, 9), positive), max_size=3)
tap_lists = st.builds(lambda half, middle: (*half, middle + 100, *half[::-1]), half_taps, positive)

span_keys = {
    "lines": counts,
    "phase": numbers,
    "step": st.one_of(st.none(), st.floats(min_value=1 / 64, max_value=9)),
    "edge": edges,
    "fields": awareness,
}

stages: st.SearchStrategy[Stage] = st.one_of(
    st.builds(LineDrop, **span_keys),
    st.builds(LineAverage, encoding=encodings, **span_keys),
    st.builds(
        Resample,
        samples=st.one_of(st.none(), st.integers(1, 8192)),
        kernel=kernels,
        antialias=st.booleans(),
        encoding=encodings,
        **span_keys,
    ),
    st.builds(LineRepeat, times=st.integers(1, 16)),
    st.builds(FlickerFilter, taps=st.one_of(st.just("paired"), tap_lists)),
    st.builds(Interlace, first=parities),
    st.builds(Deinterlace, how=st.sampled_from(["weave", "bob", "blend"])),
    st.builds(KeepField, parity=parities),
    st.builds(FieldOnly, pair=st.sampled_from(["down", "up"])),
    st.builds(Position, lines=numbers, samples=numbers, kernel=kernels),
    st.builds(Size, height=percents, width=percents, anchor=st.sampled_from(list(ANCHORS)), kernel=kernels),
    st.builds(
        Fit,
        aspect=st.fractions("1/4", 4, max_denominator=100),
        how=st.sampled_from(["squeeze", "letterbox", "crop"]),
        kernel=kernels,
    ),
    st.builds(Overscan, percent=st.floats(0, 60)),
    st.builds(Overscan, top=st.floats(0, 99), right=st.one_of(st.none(), st.floats(0, 99))),
    st.builds(Level, gain=st.floats(0, 16), lift=st.floats(-2, 2), clip=st.booleans()),
    st.builds(Quantise, bits=st.integers(1, 16)),
)

names = st.one_of(st.just(""), st.text(st.characters(exclude_categories=["Cs"]), max_size=12))
chains = st.builds(
    lambda members, name: Chain(*members, name=name), st.lists(stages, min_size=1, max_size=5), names
)
