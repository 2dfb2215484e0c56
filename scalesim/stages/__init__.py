"""Every kind of stage, by family. Importing this package registers them all."""

from scalesim.stages import lines, resample, fields, geometry, bandwidth, level, colour, measured  # noqa: F401, I001  registers them in this order
from scalesim.stages import slip, resync  # noqa: F401  and these
from scalesim.stages._base import STAGES, FrameStage, LinearStage, PictureStage, PointStage, Stage

__all__ = ["STAGES", "FrameStage", "LinearStage", "PictureStage", "PointStage", "Stage"]
