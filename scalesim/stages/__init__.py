"""Every kind of stage, by family. Importing this package registers them all."""

from scalesim.stages import fields, geometry, level, lines  # noqa: F401  registers the kinds
from scalesim.stages._base import STAGES, FrameStage, LinearStage, PointStage, Stage

__all__ = ["STAGES", "FrameStage", "LinearStage", "PointStage", "Stage"]
