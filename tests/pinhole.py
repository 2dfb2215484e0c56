"""A camera in front of a flat picture, by OpenCV alone: what the straightening of photos is tested with.

Lines are drawn as Gaussians in light; the lens and its undoing are `cv2.projectPoints` and
`cv2.undistortPoints` (OpenCV's documentation, "Camera Calibration and 3D Reconstruction").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Pinhole:
    """Turns about the axes in degrees, share of the photo's height that the picture fills, OpenCV's k1."""

    pitch: float = 5.0
    yaw: float = 8.0
    roll: float = 2.0
    fill: float = 0.85
    lens: float = -0.08
    rows: int = 900
    columns: int = 1200
    aspect: float = 4 / 3

    @property
    def focal(self) -> float:
        return 0.75 * max(self.rows, self.columns)

    @property
    def matrix(self) -> NDArray:
        return np.array(
            [[self.focal, 0, (self.columns - 1) / 2], [0, self.focal, (self.rows - 1) / 2], [0, 0, 1.0]]
        )

    @property
    def pose(self) -> tuple[NDArray, NDArray]:
        turn = np.eye(3)
        for axis, degrees in (((1, 0, 0), self.pitch), ((0, 1, 0), self.yaw), ((0, 0, 1), self.roll)):
            turn = cv2.Rodrigues(np.radians(degrees) * np.array(axis, float))[0] @ turn
        return turn, np.array([0, 0, self.focal / (self.fill * self.rows)])

    @property
    def lens_terms(self) -> NDArray:
        return np.array([self.lens, 0, 0, 0, 0.0])

    def to_photo(self, uv: NDArray) -> NDArray:
        """Return (n, 2) pixels of places of the picture, 0..1."""
        solid = np.column_stack([(uv[:, 0] - 0.5) * self.aspect, uv[:, 1] - 0.5, np.zeros(len(uv))])
        turn, away = self.pose
        return cv2.projectPoints(solid, cv2.Rodrigues(turn)[0], away, self.matrix, self.lens_terms)[0][:, 0]

    def to_picture(self, xy: NDArray) -> NDArray:
        """Return (n, 2) places of the picture of pixels."""
        flat = cv2.undistortPoints(xy[:, None].astype(float), self.matrix, self.lens_terms)[:, 0]
        turn, away = self.pose
        sight = np.column_stack([flat, np.ones(len(flat))]) @ turn  # in the picture's own axes
        origin = -turn.T @ away
        at = origin + sight * (-origin[2] / sight[:, 2])[:, None]
        return np.column_stack([at[:, 0] / self.aspect + 0.5, at[:, 1] + 0.5])

    def photo(self, lines: NDArray, *, sigma: float = 0.25, noise: float = 0.004, seed: int = 0) -> NDArray:
        """Return the linear light of a photo of scan lines.

        Parameters:  lines : (lines, samples) light of each line; sigma : of the beam, in lines
        """
        light = self._drawn(lines, 0.5, sigma, 0.0)
        seen = cv2.GaussianBlur(light, (0, 0), 0.7)
        random = np.random.RandomState(seed)
        return np.clip(seen + noise * random.standard_normal(seen.shape), 0, 1).astype(np.float32)

    def _drawn(self, lines: NDArray, first: float, sigma: float, growth: float) -> NDArray:
        """Return the light of lines whose first stands `first` pitches down: Gaussians, their width growing
        by `growth` of itself from black to white with the root of the light."""
        rows, columns = np.mgrid[: self.rows, : self.columns]
        uv = self.to_picture(np.column_stack([columns.ravel(), rows.ravel()]))
        count, samples = lines.shape
        v, u = uv[:, 1] * count - first, uv[:, 0] * samples - 0.5
        light = np.zeros(len(uv))
        for tap in range(-1, 2):
            line = np.rint(v) + tap
            lit = cv2.remap(
                lines.astype(np.float32),
                u.reshape(rows.shape).astype(np.float32),
                line.reshape(rows.shape).astype(np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_CONSTANT,
            ).ravel()
            wide = sigma * (1 + growth * np.sqrt(np.clip(lit, 0, 1))) / (1 + growth)
            light += lit * sigma / wide * np.exp(-0.5 * ((v - line) / wide) ** 2)
        return light.reshape(rows.shape)

    def exposure(
        self,
        fields: Sequence[NDArray],
        first: Sequence[float],
        *,
        sigma: float = 0.25,
        growth: float = 0.5,
        mask: float = 0.0,
        defocus: float = 0.7,
        noise: float = 0.01,
        vignette: float = 0.3,
        quality: int = 85,
        seed: int = 0,
    ) -> NDArray:
        """Return a photo, (rows, columns, 3) uint8: mask, vignetting, defocus, mosaic, noise, JPEG.

        Parameters:
            fields : (lines, samples, 3) light of what is drawn while the shutter is open; `first` : how far
                down each field's first line stands, in pitches
            mask : pitch of red, green and blue stripes in lines, 0 for none; noise : of full light
        The mosaic is red and green over green and blue, which OpenCV calls BayerBG (it counts from the second
        pixel), and is taken apart again by OpenCV's interpolation.
        """
        random = np.random.RandomState(seed)
        seen = np.zeros((self.rows, self.columns, 3))
        for field, down in zip(fields, first, strict=True):
            for channel in range(3):
                seen[..., channel] += self._drawn(field[..., channel], down, sigma, growth) / len(fields)
        rows, columns = np.mgrid[: self.rows, : self.columns]
        if mask:
            across = self.to_picture(np.column_stack([columns.ravel(), rows.ravel()]))[:, 0]
            turn = (across.reshape(rows.shape) * self.aspect * len(fields[0]) / mask)[..., None]
            seen *= 0.4 + 1.8 * (np.abs((turn - np.arange(3) / 3) % 1 - 0.5) < 1 / 6)
        away = np.hypot(rows / self.rows - 0.5, columns / self.columns - 0.5)
        seen *= (1 - vignette * (away / 0.71) ** 2)[..., None]
        seen = cv2.GaussianBlur(0.55 * seen, (0, 0), defocus)
        seen += noise * np.sqrt(seen.clip(0) + 0.01) * random.standard_normal(seen.shape)
        mosaic = np.zeros((self.rows, self.columns))
        for (down, over), channel in {(0, 0): 0, (0, 1): 1, (1, 0): 1, (1, 1): 2}.items():
            mosaic[down::2, over::2] = seen[down::2, over::2, channel]
        raw = (65535 * mosaic.clip(0, 1)).astype(np.uint16)
        whole = cv2.cvtColor(raw, cv2.COLOR_BayerBG2BGR) / 65535  # blue, green, red
        codes = np.where(whole <= 0.0031308, 12.92 * whole, 1.055 * whole ** (1 / 2.4) - 0.055)
        stored = cv2.imencode(
            ".jpg", np.rint(255 * codes).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, quality]
        )
        return cv2.imdecode(stored[1], cv2.IMREAD_COLOR)[..., ::-1]
