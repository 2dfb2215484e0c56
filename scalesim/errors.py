"""Which error when.

Every error a user can meet is a `ScalesimError` whose text is one line: the thing, its value, the
limit and the remedy, for example ``line-drop: lines is 0; it must be at least 1 (240 keeps one line
in three of 720)``. Each also subclasses the builtin a Python user would expect.

=================== =============== ==============================================================
error               builtin         raised when
=================== =============== ==============================================================
`ParameterError`    ValueError      a key or argument has a value outside its stated range
`ShapeError`        ValueError      an array, raster or operator has a size or dtype that cannot fit
`EncodingError`     TypeError       operators mixing code values and light are asked to compose
`NotMeasurable`     ArithmeticError a metric cannot be had from these pictures; the text is the reason
`NotIdentifiable`   ArithmeticError an estimate cannot be had from these data
`ReadError`         OSError         a file is missing, unreadable, truncated, too large or of no known kind
`WriteError`        OSError         an output folder or file cannot be written
`WorkerError`       RuntimeError    processes or machines that do a part of the work are gone
`LibraryError`      ImportError     an installed library is of a version the program cannot work with
=================== =============== ==============================================================
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class ScalesimError(Exception):
    """Base of every error whose text is meant for the user as it stands."""


class ParameterError(ScalesimError, ValueError):
    """A key or argument is outside its range, or is not known."""


class ShapeError(ScalesimError, ValueError):
    """Sizes, dtypes or rasters do not fit each other."""


class EncodingError(ScalesimError, TypeError):
    """Operators that act on code values and on light cannot be composed."""


class NotMeasurable(ScalesimError, ArithmeticError):
    """A metric has no value for these pictures; its text becomes `why` in the result."""


class NotIdentifiable(ScalesimError, ArithmeticError):
    """An estimate cannot be had from these data."""


class ReadError(ScalesimError, OSError):
    """A file cannot be read as what it should be."""


class WriteError(ScalesimError, OSError):
    """An output cannot be written."""


class WorkerError(ScalesimError, RuntimeError):
    """Those who do a part of the work, processes or machines, are gone."""


class LibraryError(ScalesimError, ImportError):
    """An installed library does not answer as the program uses it; no file is at fault."""


def nearest(name: str, valid: Iterable[str]) -> str:
    """Return ``did you mean 'x'? valid: …`` for an unknown name.

    The nearest valid name is left out when none is similar (difflib ratio below 0.5).
    """
    names = list(valid)
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    hint = f"did you mean '{close[0]}'? " if close else ""
    return f"{hint}valid: {', '.join(names)}"
