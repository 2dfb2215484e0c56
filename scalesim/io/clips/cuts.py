"""Where the scenes of a clip begin, by FFmpeg's own scene score."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

from scalesim.core.files import shown
from scalesim.io.clips.ffmpeg import load_av, opened
from scalesim.io.clips.index import tolerant

SCORE = 0.4
"""From this score on a picture begins a scene; FFmpeg's manual of `select` says 0.3 to 0.5 is sane."""

_WIDTH, _HEIGHT = 320, 180
"""Pictures are looked at this small: what tells a cut is seen in it, and it is quick."""


def scene_middles(path: str, frames: int) -> list[int]:
    """Return the number of the frame in the middle of every scene.

    A scene begins where FFmpeg's `select` filter scores a picture 0.4 or more against the one before
    (`scene`: the lesser of the mean absolute difference and of its change, ffmpeg-filters, "select").
    """
    begins = [0, *(k for k in scene_begins(path) if 0 < k < frames), frames]
    return [(begin + end) // 2 for begin, end in pairwise(begins)]


def scene_begins(path: str) -> list[int]:
    """Return the numbers of the frames that begin a scene, the first of all left out."""
    av, found, count = load_av(), [], 0
    graph: Any = None
    with opened(path, shown(path)) as (container, stream):
        for decoded in tolerant(container, stream):
            for frame in decoded.frames:
                small = frame.reformat(_WIDTH, _HEIGHT, "rgb24")
                small.pts, small.time_base = count, Fraction(1, 1000)
                if graph is None:
                    graph = _graph(av, small)
                found += _chosen(av, graph, small)
                count += 1
    return found


def _graph(av: Any, like: Any) -> Any:
    graph = av.filter.Graph()
    source = graph.add_buffer(
        width=like.width, height=like.height, format=like.format, time_base=like.time_base
    )
    chosen, sink = graph.add("select", rf"gte(scene\,{SCORE})"), graph.add("buffersink")
    source.link_to(chosen)
    chosen.link_to(sink)
    graph.configure()
    return graph


def _chosen(av: Any, graph: Any, frame: Any) -> list[int]:
    graph.push(frame)
    found = []
    while True:
        try:
            found.append(int(graph.pull().pts))
        except (av.error.EOFError, av.error.BlockingIOError):
            return found
