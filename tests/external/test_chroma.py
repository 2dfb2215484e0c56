"""The chroma stage against colour-science's matrices and FFmpeg's 4:2:2 and 4:2:0 conversions.

colour-science: RGB_to_YCbCr with the luma weights of ITU-R BT.601 and BT.709. FFmpeg (through PyAV):
swscale to yuv422p / yuv420p and back, 8 bits, on smooth colour, where every sound filter agrees; its
own filters differ from ours near edges, so hard edges are not compared.
"""

from __future__ import annotations

import av
import numpy as np
import pytest

from scalesim.core.raster import Raster
from scalesim.stages.colour import MATRICES, Chroma, ycc_matrix


@pytest.mark.parametrize(("name", "weights"), [("bt601", "ITU-R BT.601"), ("bt709", "ITU-R BT.709")])
def test_matrix_against_colour_science(name: str, weights: str) -> None:
    """Y', Cb, Cr of random colours, full range floats: equal to 1e-12; the other matrix is not."""
    import colour

    values = np.random.RandomState(3).rand(50, 3)
    theirs = colour.RGB_to_YCbCr(values, K=colour.WEIGHTS_YCBCR[weights], out_range=(0, 1, -0.5, 0.5))
    ours = values @ ycc_matrix(*MATRICES[name]).T
    assert np.abs(ours - theirs).max() < 1e-12
    other = next(key for key in MATRICES if key != name)
    assert np.abs(values @ ycc_matrix(*MATRICES[other]).T - theirs).max() > 0.01


def smooth_colour(lines: int = 96, samples: int = 128) -> np.ndarray:
    """Hue turning slowly across and down the picture, float code values."""
    y, x = np.mgrid[0:lines, 0:samples]
    phases = np.stack([x / samples + y / lines, x / samples - y / lines + 1, 2 - x / samples], axis=-1)
    return 0.5 + 0.35 * np.sin(1.5 * phases)


@pytest.mark.parametrize(("sampling", "layout"), [("422", "yuv422p"), ("420", "yuv420p")])
def test_smooth_colour_against_ffmpeg(sampling: str, layout: str) -> None:
    """Within four 8-bit codes on smooth colour, 1.3 on average; moved by eight samples it is not.

    Its own rounding to 8-bit Y, Cb and Cr takes 0.7 of that, measured without subsampling.
    """
    frame = smooth_colour()
    codes = np.floor(frame * 255 + 0.5).astype(np.uint8)
    picture = av.VideoFrame.from_ndarray(codes, format="rgb24")
    thinned = picture.reformat(format=layout, dst_colorspace="ITU601", dst_color_range="JPEG")
    theirs = thinned.reformat(format="rgb24", src_colorspace="ITU601", src_color_range="JPEG").to_ndarray()
    ours = Chroma(sampling=sampling).apply(codes / 255, Raster(*frame.shape[:2])) * 255
    inner = (slice(4, -4), slice(4, -4))
    assert np.abs(ours - theirs)[inner].max() < 4.0
    assert np.abs(ours - theirs)[inner].mean() < 1.3
    wrong = np.roll(ours, 8, axis=1)
    assert np.abs(wrong - theirs)[inner].mean() > 1.6
