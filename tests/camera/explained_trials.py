"""Trials of a photo against predictions with the camera model, frozen by number before any was looked at.

    python tests/camera/explained_trials.py FOLDER FIRST COUNT

A trial is a source picture, a list of six chains, the one that was used, a tube and a camera. Numbers from 0
are framed as `scalesim glass --plan` advises, numbers from 500 are the harder half: more tilt, noise, shake,
half of the picture in view. Photos are kept in FOLDER; each trial prints one line of JSON. The method was
made on numbers from 200 and 700, and judged once on those from 0 and 500.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import skimage.data
import skimage.transform
from numpy.typing import NDArray

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from glass_camera import Camera
from glass_fed import FedTube, codes_of, fed, shot

import scalesim as ss
from scalesim.core.photo import Photo
from scalesim.errors import ScalesimError
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.glass import explained_by
from scalesim.tube.beam import line_places

SIXES = (
    {
        "blend": "resample lines=240 kernel=linear",
        "blend half": "resample lines=240 kernel=linear phase=1/2",
        "two sets": "line-average lines=480, interlace",
        "one set": "line-average lines=480, interlace, field-only",
        "two sets filtered": "line-average lines=480, flicker-filter taps=1/2/1, interlace",
        "one set filtered": "line-average lines=480, flicker-filter taps=1/2/1, interlace, field-only",
    },
    {
        "drop": "line-drop lines=480, line-drop lines=240",
        "drop half": "line-drop lines=480, line-drop lines=240 phase=1",
        "average": "line-average lines=240",
        "two sets": "resample lines=480 kernel=cubic, interlace",
        "two sets half": "resample lines=480 kernel=cubic phase=1/2, interlace",
        "one set": "resample lines=480 kernel=cubic, interlace, field-only",
    },
)
PHOTOGRAPHS = ("astronaut", "coffee", "chelsea", "rocket", "immunohistochemistry", "retina")
HARD = 500
_FIRST = 31_000


@dataclass(frozen=True, eq=False)
class Trial:
    """What was drawn: the source's number, which six, which of them, tube and camera."""

    number: int
    source: int
    six: dict[str, str]
    true: str
    tube: FedTube
    camera: Camera


@cache
def source(number: int) -> NDArray[np.float32]:
    """A frame of 720 x 1280: drawn frames of the demonstration, and photographs that scikit-image ships."""
    frames = sorted((Path(__file__).parents[2] / "inputs" / "frames").glob("*.png"))
    which = number % (len(frames) + len(PHOTOGRAPHS))
    if which < len(frames):
        values = ss.read(frames[which]).frame
    else:
        values = getattr(skimage.data, PHOTOGRAPHS[which - len(frames)])() / 255
    return skimage.transform.resize(values[..., :3], (720, 1280, 3), anti_aliasing=True).astype(np.float32)


def drawn(number: int) -> Trial:
    """The trial of a number."""
    rng = np.random.RandomState(_FIRST + number)
    hard = number >= HARD
    which, six = int(rng.randint(10**4)), SIXES[rng.randint(2)]
    true = list(six)[rng.randint(6)]
    seen = ss.predict(source(which), six[true], metrics=[])
    lands = [float(line_places(seen.raster, k % seen.raster.period)[0]) - 0.5 for k in range(len(seen.cycle))]
    tube = fed(
        seen.cycle,
        lands,
        sigma=rng.uniform(0.13, 0.28),
        skew=float(rng.choice([0.0, 0.0, 0.15])),
        mask=str(rng.choice(["none", "stripes", "slots"])),
        mask_pitch=rng.uniform(0.35, 0.8),
        seed=int(rng.randint(10**6)),
    )
    return Trial(number, which, six, true, tube, _hard(rng) if hard else _advised(rng))


def _advised(rng: np.random.RandomState) -> Camera:
    pixels = rng.uniform(6, 7.5)
    rows = int(240 * pixels * 1.12) // 2 * 2
    return Camera(
        rows=rows,
        columns=int(rows * 4 / 3) // 2 * 2,
        pixels=pixels,
        tilt=rng.uniform(-6, 6),
        pan=rng.uniform(-6, 6),
        roll=rng.uniform(-2, 2),
        barrel=rng.uniform(0, 0.03),
        look=(rng.uniform(0.47, 0.53), rng.uniform(0.47, 0.53)),
        exposure=int(rng.choice([2, 4])) / 59.94,
        readout=rng.uniform(0.006, 0.022),
        start=rng.uniform(0, 2 / 59.94),
        defocus=rng.uniform(0.3, 0.8),
        iso=float(rng.choice([100, 200, 400, 800])),
        quality=int(rng.randint(75, 96)),
        shake=float(rng.choice([0.0, 0.0, 0.05])),
        seed=int(rng.randint(10**6)),
    )


def _hard(rng: np.random.RandomState) -> Camera:
    pixels = rng.uniform(5, 7)
    whole = rng.rand() < 0.5
    rows = int(240 * pixels * (1.15 if whole else 0.75)) // 2 * 2
    return Camera(
        rows=rows,
        columns=int(rows * 4 / 3) // 2 * 2,
        pixels=pixels,
        tilt=rng.uniform(-15, 15),
        pan=rng.uniform(-15, 15),
        roll=rng.uniform(-4, 4),
        barrel=rng.uniform(0, 0.05),
        look=(0.5, 0.5) if whole else (rng.uniform(0.36, 0.64), rng.uniform(0.36, 0.64)),
        exposure=int(rng.choice([1, 2, 4, 8, 15])) / 59.94,
        readout=rng.uniform(0.006, 0.022),
        start=rng.uniform(0, 2 / 59.94),
        defocus=rng.uniform(0.2, 1.2),
        iso=float(rng.choice([400, 800, 1600, 3200, 6400])),
        quality=int(rng.randint(60, 96)),
        sharpen=float(rng.choice([0, 0, 0.6])),
        shake=float(rng.choice([0.0, 0.0, 0.1])),
        seed=int(rng.randint(10**6)),
    )


def photographed(trial: Trial, folder: Path | None = None) -> NDArray[np.uint8]:
    """The photo of a trial; kept in a folder and read from there when it is there."""
    if folder is None:
        return codes_of(shot(trial.camera, trial.tube))
    file = folder / f"{trial.number:04d}.jpg"
    if not file.exists():
        file.write_bytes(shot(trial.camera, trial.tube))
    return codes_of(file.read_bytes())


def asked(trial: Trial, codes: NDArray[np.uint8]) -> dict:
    """What the package answers: the order of the predictions, the odds, and whether it is right."""
    began = time.process_time()
    told = {
        "number": trial.number,
        "source": trial.source % 13,
        "true": trial.true,
        "pixels": trial.camera.pixels,
    }
    chains = [ss.Chain(f"{name}: {text}") for name, text in trial.six.items()]
    try:
        sent = ss.still_clip(source(trial.source), mode="720p60")
        found = explained_by(Photo(codes), sent, chains, 4 / 3, Asked(shutter=str(trial.camera.exposure)))
    except ScalesimError as reason:
        return told | {"verdict": "refused", "why": str(reason), "took": time.process_time() - began}
    first = found.tried[0].label
    verdict = "refused" if not found.explains else "tie" if len(found.alike) > 1 else "told"
    if verdict == "told":
        verdict = "right" if first == trial.true else "WRONG"
    return told | {
        "verdict": verdict,
        "first": first,
        "alike": [each.label for each in found.alike],
        "odds": [round(each, 2) for each in found.odds],
        "labels": [each.label for each in found.tried],
        "over": [(round(each.share, 3), round(each.error, 3)) for each in found.over],
        "curve": found.curve and [round(found.curve.exponent, 3), round(found.curve.error, 3)],
        "left": round(found.left[0], 4),
        "took": round(time.process_time() - began, 1),
    }


def main() -> None:
    """Run trials and print what came of each."""
    folder, first, count = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(first, first + count):
        trial = drawn(number)
        print(json.dumps(asked(trial, photographed(trial, folder))), flush=True)


if __name__ == "__main__":
    main()
