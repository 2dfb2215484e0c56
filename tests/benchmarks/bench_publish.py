"""What publishing costs. Run: pytest -s tests/benchmarks/bench_publish.py

- Frames of 1080 lines to 240, at once and by 480 of 720, and 480 lines to fields with a filter, beside
  FFmpeg's filters, OpenCV and Pillow. Ours are float32 code values that are never rounded, or the planes of a
  decoded picture; the references scale 8-bit codes.
- SSIM beside scikit-image.
- Clips: 1080p60 in H.264, read, scaled, counted for flashes and written as H.264, beside FFmpeg by PyAV that
  decodes the same clip, scales it to the same size and encodes it.

What a study costs is told by bench_study.py. References are measured in the same run; SCALESIM_CLIP_SECONDS
sets the length of the clips (2). The clock is told and processor time: on a machine that does other work,
the second is the fairer.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does, see `scalesim.cli.main`

import resource
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import count, pairwise, product
from pathlib import Path

import av
import cv2
import numpy as np
import PIL
import pytest
import skimage.metrics
from numpy.typing import NDArray
from PIL import Image
from timing import best_ms, plot, report

from scalesim.chain import Chain
from scalesim.chain.resolve import Resolved
from scalesim.chain.run import run
from scalesim.core.colours import Coding, Scale
from scalesim.core.picture import Picture
from scalesim.core.planes import CodedPicture, Planes
from scalesim.core.raster import Raster
from scalesim.demo.bench import SCENES
from scalesim.io.clips.guarded import save_clip
from scalesim.io.clips.write import write_clip
from scalesim.io.read import read
from scalesim.jobs.predict.moving import moving
from scalesim.metrics.fidelity.likeness import structural_similarity

SECONDS = float(os.environ.get("SCALESIM_CLIP_SECONDS", "2"))
RATE = 60
CHAINS = {
    "average to 240": "line-average lines=240",
    "480, then 240": "line-average lines=480, line-average lines=240",
    "480i": "line-average lines=480, flicker-filter, interlace",
}


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a 1080p60 clip of the demonstration's art that moves 4 samples a picture."""
    frame = next(scene for scene in SCENES if scene.draw().shape[0] == 1080).draw()
    path = tmp_path_factory.mktemp("publish") / "in.mp4"
    write_clip(path, (np.roll(frame, 4 * k, axis=1) for k in range(round(SECONDS * RATE))), Fraction(RATE))
    return path


@dataclass(frozen=True)
class Cost:
    """Of one picture: seconds on the clock, and of all processors together."""

    clock: float
    work: float


def cost_of(work: Callable[[], object], pictures: float) -> Cost:
    """Return the smaller cost of two runs, of each kind apart."""
    clock, busy = [], []
    for _ in range(2):
        begun, before = time.perf_counter(), spent()
        work()
        clock.append((time.perf_counter() - begun) / pictures)
        busy.append((spent() - before) / pictures)
    return Cost(min(clock), min(busy))


def resized(clip: Path, out: Path, size: tuple[int, int]) -> None:
    """Decode, scale by areas, and encode, all by FFmpeg on as many threads as it likes."""
    with av.open(str(clip)) as taken, av.open(str(out), "w") as made:
        taken.streams.video[0].thread_type = "AUTO"
        stream = made.add_stream("libx264", rate=RATE, options={"preset": "veryfast", "crf": "16"})
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        for frame in taken.decode(video=0):
            made.mux(stream.encode(frame.reformat(*size, "yuv420p", interpolation="AREA")))
        made.mux(stream.encode())


def told(name: str, title: str, rows: list[tuple[str, float, float, str]]) -> None:
    """Print, keep and draw the rows, and the versions of the references."""
    codec = ".".join(map(str, av.library_versions["libavcodec"]))
    print(f"PyAV {av.__version__} (libavcodec {codec}), OpenCV {cv2.__version__}, Pillow {PIL.__version__}")
    report(name, rows)
    plot(name, title, rows)


def spent() -> float:
    """Return the seconds of processor time of this process and of those that it has seen end."""
    own, others = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime


def scaler(source: tuple[int, int], *filters: tuple[str, str]) -> Callable[[NDArray], None]:
    """Return FFmpeg's filters, one after the other, on (lines, samples, 3) 8-bit frames."""
    graph = av.filter.Graph()
    nodes = [graph.add_buffer(width=source[1], height=source[0], format="rgb24", time_base=Fraction(1, RATE))]
    nodes += [graph.add(name, words) for name, words in filters] + [graph.add("buffersink")]
    for one, other in pairwise(nodes):
        one.link_to(other)
    graph.configure()
    times = count()

    def work(codes: NDArray) -> None:
        for _ in range(2):  # two, as a pair of fields is made of two frames
            frame = av.VideoFrame.from_ndarray(codes, format="rgb24")
            frame.pts, frame.time_base = next(times), Fraction(1, RATE)
            graph.push(frame)
            with suppress(av.error.BlockingIOError):
                while True:
                    graph.pull()

    return work


def test_frames() -> None:
    """Two frames each; the clock is the fastest of several runs."""
    rows = []
    for lines, samples, words, sizes in (
        (1080, 1920, "line-average lines=240", (240,)),
        (720, 1280, "line-average lines=480, line-average lines=240", (480, 240)),
    ):
        codes = np.random.RandomState(0).randint(0, 256, (lines, samples, 3)).astype(np.uint8)
        plan = Chain(words).resolve(Raster(lines, samples))
        values, coded = codes.astype(np.float32) / 255, planes(lines, samples)

        def ours(pictures: list[Picture], plan: Resolved = plan) -> None:
            [picture.values for picture in run(plan, pictures)]  # those of planes are made when asked for

        def by_opencv(codes: NDArray = codes, samples: int = samples, sizes: tuple[int, ...] = sizes) -> None:
            for _ in range(2):
                got = codes
                for size in sizes:
                    got = cv2.resize(got, (samples, size), interpolation=cv2.INTER_AREA)

        def by_pillow(codes: NDArray = codes, samples: int = samples, sizes: tuple[int, ...] = sizes) -> None:
            for _ in range(2):
                got = Image.fromarray(codes)
                for size in sizes:
                    got = got.resize((samples, size), Image.Resampling.BOX)

        filters = [("scale", f"{samples}:{size}:flags=area") for size in sizes]
        ffmpeg = scaler((lines, samples), *filters)
        got = best_ms(partial(ours, [Picture(values, plan.source)] * 2))
        of_planes = best_ms(partial(ours, [CodedPicture(coded, plan.source, Fraction(0))] * 2))
        what = " to ".join(map(str, (lines, *sizes)))
        for name, ref in (
            ("FFmpeg", best_ms(partial(ffmpeg, codes))),
            ("OpenCV", best_ms(by_opencv)),
            ("Pillow", best_ms(by_pillow)),
        ):
            rows.append((f"{what}, float R'G'B' ({name}), ms for two", got, ref, ""))
        rows.append((f"{what}, planes of a clip (FFmpeg on R'G'B'), ms for two", of_planes, rows[-3][2], ""))
    told("publish-frames", "Two frames", [*rows, interlaced()])


def interlaced() -> tuple[str, float, float, str]:
    """480 lines to two fields by 1/2/1, of two frames."""
    codes = np.random.RandomState(0).randint(0, 256, (480, 1280, 3)).astype(np.uint8)
    plan = Chain("flicker-filter taps=1/2/1, interlace").resolve(Raster(480, 1280))
    pictures = [Picture(codes.astype(np.float32) / 255, plan.source)] * 2
    # PyAV's FFmpeg comes without its interlace filter, so by the two that it would be made of
    taps = ":".join(f"{k}m='0 1 0 0 2 0 0 1 0':{k}rdiv=1/4" for k in range(3))
    ffmpeg = scaler((480, 1280), ("format", "gbrp"), ("convolution", taps), ("field", "type=top"))
    got, ref = best_ms(lambda: list(run(plan, pictures))), best_ms(lambda: ffmpeg(codes))
    return ("480 to fields with a filter (FFmpeg), ms for two", got, ref, "")


def planes(lines: int, samples: int) -> Planes:
    """Return noise as 4:2:0."""
    rs = np.random.RandomState(0)
    shapes = ((lines, samples), (lines // 2, samples // 2), (lines // 2, samples // 2))
    codes = [rs.randint(16, 236, shape).astype(np.uint8) for shape in shapes]
    coding = Coding(Scale(16, 219), weights=(0.2126, 0.0722), halvings=(1, 1), first=(0.5, 0.0))
    return Planes(codes, coding)


def test_ssim() -> None:
    rows = []
    for lines, samples in ((240, 720), (1080, 1920)):
        a, b = np.random.RandomState(0).rand(2, lines, samples)
        settings = {"gaussian_weights": True, "sigma": 1.5, "use_sample_covariance": False}
        wang = partial(skimage.metrics.structural_similarity, a, b, data_range=1.0, **settings)
        got, ref = best_ms(partial(structural_similarity, a, b), 5), best_ms(wang, 5)
        rows.append((f"SSIM {samples}x{lines} (scikit-image), ms", got, ref, "<= 1"))
        assert structural_similarity(a, b) == pytest.approx(wang(), abs=1e-5)
    told("publish-ssim", "SSIM", rows)


def test_clips(source: Path, tmp_path: Path) -> None:
    rows, work = [], []
    for (view, asked), (name, text) in product({"raster": 60, "screen": 30}.items(), CHAINS.items()):
        out = tmp_path / f"{view}.mp4"

        def ours(text: str = text, view: str = view, out: Path = out) -> None:
            clip = read(source)
            save_clip(lambda: moving(clip, Chain(text), view=view), out)

        got = cost_of(ours, SECONDS * RATE)
        with av.open(str(out)) as made:
            size = (made.streams.video[0].width, made.streams.video[0].height)
        ref = cost_of(lambda size=size: resized(source, tmp_path / "ref.mp4", size), SECONDS * RATE)
        what = f"{view}, {name} ({size[0]}x{size[1]})"
        rows.append((f"{what}, pictures a second", 1 / got.clock, 1 / ref.clock, f"{asked} asked"))
        work.append((f"{what}, processor ms a picture", 1e3 * got.work, 1e3 * ref.work, "2 cores have 33"))
    told("publish-clips", "Clips", rows + work)
