"""A stage that is what a box was measured to do, whatever its maker calls it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.files import read_text, shown
from scalesim.core.limits import DOCUMENT_MEGABYTES
from scalesim.core.operator import FieldOperator
from scalesim.core.operator_file import OperatorFile
from scalesim.core.raster import PROGRESSIVE, Raster
from scalesim.errors import ParameterError, ReadError
from scalesim.schema import param
from scalesim.stages._base import LinearStage, Maps, stage


@stage("measured", example={"file": "box.json"})
@dataclass(frozen=True, kw_only=True)
class Measured(LinearStage):
    """The line operator that `identify` estimated from a capture and saved as an operator file.

    It takes pictures of as many lines and fields as the source it was measured with, of any number of
    samples.
    """

    file: str = param(type="file", doc="the operator file that identify wrote")

    @property
    def measured(self) -> OperatorFile:
        """What the file holds. Raises: ReadError, ParameterError"""
        path = Path(self.file)
        try:
            changed = path.stat().st_mtime_ns
        except (OSError, ValueError):
            raise ReadError(f"measured: no operator file {self.file}; check its name and folder") from None
        return _read(path, changed)

    def raster(self, before: Raster) -> Raster:
        """Return the raster of the box's output; refuses another source than it was measured with."""
        found = self.measured
        if (before.lines, before.period) != (found.lines_in, found.fields_in):
            wanted = f"{'2 x ' if found.fields_in == 2 else ''}{found.lines_in} lines"
            raise ParameterError(
                f"measured: got {before.describe()}; {Path(self.file).name} was measured with {wanted} "
                "(measure the box with a chart of this mode)"
            )
        fields = PROGRESSIVE if len(found.fields) == 1 else tuple(own.field for own in found.fields)
        return before.with_(lines=found.lines_out, fields=fields)

    def maps(self, before: Raster) -> Maps:
        """Return where each field's spans lie on its source picture."""
        found = self.measured
        return tuple(Affine(found.step, own.phase) for own in found.fields), IDENTITY

    def operator(self, before: Raster) -> FieldOperator:
        """Return the measured matrices."""
        self.raster(before)
        return self.measured.operator()


@lru_cache(maxsize=8)
def _read(path: Path, _changed: int) -> OperatorFile:
    """Return a file's operator, read again only when the file has changed."""
    return OperatorFile.from_json(read_text(path, "operator", DOCUMENT_MEGABYTES), name=shown(path.name))
