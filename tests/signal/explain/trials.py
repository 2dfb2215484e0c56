"""Trials of "photo against prediction" on an independent camera (tests/pinhole.py): a table, run by hand.

    python tests/signal/explain/trials.py 60 [first seed]

Six chains for each photo, among them pairs that differ only in a phase of half a line, in a filter, in
where fields land. The true one is drawn by lot. For each trial it prints what was found and the odds; at
the end how often it was right, and of the odds stated how often they came true.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import skimage.data
import skimage.transform
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[3]))

import scalesim as ss
from scalesim.core.encoding import code_to_light, luma
from scalesim.core.photo import light_of, srgb_light
from scalesim.errors import ScalesimError
from scalesim.signal.explain.choose import chosen_tiles
from scalesim.signal.explain.fit import fit, tiles_of
from scalesim.signal.explain.lit import lit_lines
from scalesim.signal.explain.odds import odds_of
from scalesim.signal.explain.straight import straightened
from scalesim.signal.rectify.by_frame import sampled_picture, view_by_frame
from scalesim.tube.beam import line_places
from tests.pinhole import Pinhole

CHAINS = {
    "blend": "resample lines=240 kernel=linear",
    "blend half": "resample lines=240 kernel=linear phase=1/2",
    "two sets": "line-average lines=480, interlace",
    "one set": "line-average lines=480, interlace, field-only",
    "two sets filtered": "line-average lines=480, flicker-filter taps=1/2/1, interlace",
    "one set filtered": "line-average lines=480, flicker-filter taps=1/2/1, interlace, field-only",
}
PICTURES = ("astronaut", "coffee", "chelsea", "rocket", "immunohistochemistry", "retina")


def picture(number: int) -> NDArray:
    """Return a 1280 x 720 picture: drawn frames of the demonstration, and photographs of scikit-image."""
    frames = sorted((Path(__file__).parents[3] / "inputs" / "frames").glob("*.png"))
    which = number % (len(frames) + len(PICTURES))
    if which < len(frames):
        values = ss.read(frames[which]).frame
    else:
        values = getattr(skimage.data, PICTURES[which - len(frames)])() / 255
    return skimage.transform.resize(values[..., :3], (720, 1280, 3), anti_aliasing=True).astype(np.float32)


def trial(seed: int) -> tuple[str, str, float, float]:
    """Return (true, found, odds over the second, share left)."""
    random = np.random.RandomState(seed)
    frame = picture(random.randint(1000))
    predictions = {name: ss.predict(frame, chain, metrics=[]) for name, chain in CHAINS.items()}
    true = list(CHAINS)[random.randint(len(CHAINS))]
    shown = predictions[true]
    camera = Pinhole(
        *random.uniform(-9, 9, 2),
        random.uniform(-3, 3),
        fill=random.uniform(0.8, 0.95),
        lens=random.uniform(-0.12, 0),
        rows=1650,
        columns=2200,
    )
    codes = camera.exposure(
        [code_to_light(values) for values in shown.cycle],
        [float(line_places(shown.raster, k)[0]) for k in range(len(shown.cycle))],
        sigma=random.uniform(0.16, 0.3),
        growth=random.uniform(0.2, 1.0),
        mask=random.choice([0, 0.4, 0.6]),
        defocus=random.uniform(0.4, 1.2),
        noise=random.uniform(0.004, 0.05),
        quality=int(random.randint(60, 96)),
        seed=seed,
    )
    mean = np.mean([sampled_picture(luma(p.landed), 600, 4 / 3) for p in predictions.values()], axis=0)
    view = view_by_frame(light_of(codes), mean)
    lits = {name: lit_lines(p.cycle, p.raster) for name, p in predictions.items()}
    photo = straightened(srgb_light(codes[..., 1] / np.float32(255)), view, 240)
    tiles = tiles_of(photo, chosen_tiles(photo, list(lits.values())))
    found = {name: fit(lit, tiles, photo.along) for name, lit in lits.items()}
    best, second = sorted(found, key=lambda name: found[name].score)[:2]
    return true, best, odds_of(found[best].misfit, found[second].misfit), found[best].left


def main() -> None:
    """Run the trials and print the table."""
    count, first = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    right, refused, stated = 0, 0, []
    for seed in range(first, first + count):
        began = time.process_time()
        try:
            true, found, odds, left = trial(seed)
        except ScalesimError as error:
            refused += 1
            print(f"{seed}: refused: {error}", flush=True)
            continue
        right += true == found
        stated.append((odds, true == found))
        took = time.process_time() - began
        word = "right" if true == found else "WRONG"
        print(f"{seed}: {word} {true} -> {found}, odds {odds:.1f}, left {left:.4f}, {took:.0f} s", flush=True)
    print(f"{right} of {len(stated)} right, {refused} refused")
    for low, high in ((1, 3), (3, 10), (10, 99), (99, 101)):
        some = [good for odds, good in stated if low <= odds < high]
        if some:
            print(f"odds {low} to {high}: {sum(some)} of {len(some)} came true")


if __name__ == "__main__":
    main()
