"""Which folder may import which: read from every file's imports, so the layering cannot slip.

A file imports from lower levels, or from files of its own folder. Third-party packages are named per
folder; those marked lazy only inside functions, so that `import scalesim` stays quick.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import scalesim

ROOT = Path(scalesim.__file__).parent
FILES = sorted(ROOT.rglob("*.py"))
NAMES = {
    ".".join((ROOT.name, *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
    for path in FILES
}

LEVELS = {
    **dict.fromkeys(
        ["errors", "figure", "interrupt", "job", "plot", "result", "schema", "texts", "typeset", "version"], 0
    ),
    "core": 1,
    **dict.fromkeys(["draw", "stages", "metrics"], 2),
    **dict.fromkeys(["chain", "tube", "charts", "demo"], 3),
    **dict.fromkeys(["rows", "sampled", "signal", "search"], 4),
    **dict.fromkeys(["io", "jobs"], 5),
    "page": 6,
    "saving": 7,
    "reading": 7,
    "writing": 7,
    "lab": 8,
    "cli": 9,
    "__main__": 10,
    "": 10,  # scalesim/__init__.py, which loads names when they are first used; nothing inside imports it
}

SIDEWAYS = {
    ("schema", "errors"): "a key that is refused is an error of ours",
    ("job", "schema"): "a job's keys are checked by the schema",
    ("result", "plot"): "plots are a part of an answer",
    ("result", "figure"): "so are annotated figures",
    ("result", "typeset"): "what a notebook shows is printed to be read",
    ("tube", "charts"): "a display's file holds what is read off the geometry chart",
}
"""Imports between folders of one level that are allowed, with the reason."""

NEVER = {
    ("page", "io"): "a page is text made of parts; whoever saves it hands it a store, and writes the files",
    ("page", "jobs"): "a page shows results as data, and knows no job",
}
"""Imports that the levels would allow and that are not, with the reason."""

SHARED_JOBS = {"predict", "frames", "catalogue", "settings"}
"""What every job may import of `jobs`; what else two jobs need lives below."""

FREE_JOBS = {"demo", "catalogue"}
"""Jobs that may import any other: the one that shows them all, and the list of them."""

TOP = {  # packages that may be imported at the top of a file
    "core": {"numpy"},
    "draw": {"numpy"},
    "sampled": {"numpy"},
    "search": {"numpy"},
    "stages": {"numpy"},
    "metrics": {"numpy"},
    "signal": {"numpy"},
    "charts": {"numpy"},
    "tube": {"numpy"},
    "demo": {"numpy"},
    "chain": {"numpy"},
    "jobs": {"numpy"},
    "io": {"numpy"},
    "page": {"numpy"},
    "saving": {"numpy"},
    "reading": {"numpy"},
    "cli": {"numpy", "rich", "rich_click", "click"},
    "lab": {"numpy", "starlette"},
}
LAZY = {  # packages that may be imported inside functions
    "draw": {"PIL", "matplotlib"},
    "metrics": {"skimage", "scipy"},
    "signal": {"skimage", "scipy"},
    "charts": {"scipy"},  # a coupling capacitor, sample by sample
    "tube": {"scipy"},  # the integral of a Gaussian: six times as quick as one call a value of math.erf
    "chain": {"tomlkit"},
    "jobs": {"markdown_it", "pandas"},  # pandas: rows as a table for notebooks, where it is installed
    "io": {"PIL", "av", "pyarrow", "tifffile"},
    "page": {"PIL", "jinja2", "markupsafe", "matplotlib"},
    "lab": {"PIL", "jinja2", "tomlkit", "uvicorn"},
    "cli": {"distributed"},
}
ONLY_IN = {"core/operator.py": {"scipy.sparse"}, "core/compiled.py": {"numba", "numba.extending"}}
"""Packages one file may import inside functions, and no other of its folder."""


@dataclass(frozen=True)
class Import:
    """One imported module, where it stands, and how."""

    module: str
    line: int
    lazy: bool
    for_types: bool


def imports_of(source: str) -> list[Import]:
    """Return every import of a file: at the top, inside functions, and for type checking only."""
    return list(_walk(ast.parse(source), lazy=False, for_types=False))


def _walk(node: ast.AST, *, lazy: bool, for_types: bool) -> Iterator[Import]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import):
            for alias in child.names:
                yield Import(alias.name, child.lineno, lazy, for_types)
        elif isinstance(child, ast.ImportFrom):
            assert child.level == 0, (
                f"line {child.lineno}: write imports from the package's root, not with dots"
            )
            for alias in child.names:
                whole = f"{child.module}.{alias.name}"
                yield Import(whole if whole in NAMES else str(child.module), child.lineno, lazy, for_types)
        else:
            inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            typing_only = isinstance(child, ast.If) and ast.unparse(child.test) == "TYPE_CHECKING"
            yield from _walk(child, lazy=lazy or inside, for_types=for_types or typing_only)


def folder_of(name: str) -> str:
    """Return the folder (or top-level file) of a path such as ``core/raster.py`` or a module name."""
    first = name.replace("/", ".").removesuffix(".py").split(".")[0]
    return "" if first in ("__init__", "") else first


def offences(path: str, source: str) -> list[str]:
    """Return what a file imports against the rule, each with what to do about it."""
    return [text for found in imports_of(source) if (text := _offence(path, found))]


def _offence(path: str, found: Import) -> str:
    if found.module.split(".")[0] == ROOT.name:
        return _offence_inside(path, found)
    return _offence_outside(path, found)


def _offence_inside(path: str, found: Import) -> str:
    mine, theirs = folder_of(path), folder_of(found.module.removeprefix(ROOT.name).lstrip("."))
    for folder in (mine, theirs):
        if folder not in LEVELS:
            return f"{path}: folder '{folder}' has no level; give it one in LEVELS of tests/test_layers.py"
    if (mine, theirs) in NEVER:
        return f"{path} line {found.line}: '{mine}' may not import {found.module}: {NEVER[mine, theirs]}"
    if mine == theirs == "jobs":
        return _offence_between_jobs(path, found)
    if mine == theirs or LEVELS[theirs] < LEVELS[mine] or (mine, theirs) in SIDEWAYS:
        return ""
    return (
        f"{path} line {found.line}: '{mine or ROOT.name}' is level {LEVELS[mine]} and imports {found.module} "
        f"of level {LEVELS[theirs]}; move what is shared to a lower level, or pass it in as an argument"
    )


def _offence_between_jobs(path: str, found: Import) -> str:
    parts, theirs = Path(path).parts, found.module.split(".")[2:]
    mine = parts[1].removesuffix(".py")
    if not theirs or theirs[0] == mine or theirs[0] in SHARED_JOBS or mine in FREE_JOBS:
        return ""
    return (
        f"{path} line {found.line}: job '{mine}' imports {found.module} of another job; move what both need "
        "below the jobs"
    )


def _offence_outside(path: str, found: Import) -> str:
    package, folder = found.module.split(".")[0], folder_of(path)
    if package in sys.stdlib_module_names or found.for_types:
        return ""
    if package in TOP.get(folder, set()):
        return ""
    place = f"{path} line {found.line}"
    if found.module in ONLY_IN.get(path, set()) or package in LAZY.get(folder, set()):
        remedy = f"{place}: import {package} inside the function that uses it, so that starting is quick"
        return "" if found.lazy else remedy
    return (
        f"{place}: '{folder or ROOT.name}' may not import {found.module}; do it in a folder that may "
        "(TOP and LAZY of tests/test_layers.py), or under TYPE_CHECKING if only annotations need it"
    )


def test_imports_keep_to_the_levels() -> None:
    texts = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in FILES}
    found = [offence for path, text in texts.items() for offence in offences(path, text)]
    assert not found, "\n".join(found)


def graph_of(sources: dict[str, str]) -> dict[str, set[str]]:
    """Return module -> modules of the package it imports, for types only too: a circle is a circle."""
    return {
        name: {i.module for i in imports_of(text) if i.module in NAMES and i.module != name}
        for name, text in sources.items()
    }


def cycle_in(graph: dict[str, set[str]]) -> str:
    """Return the first import cycle in words, or nothing."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return " imports ".join(reversed(error.args[1]))
    return ""


def test_no_import_cycles() -> None:
    sources = {}
    for path in FILES:
        name = ".".join((ROOT.name, *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
        sources[name] = path.read_text(encoding="utf-8")
    found = cycle_in(graph_of(sources))
    assert not found, f"import cycle: {found}; move what both need into a file of its own"


# the checks can fail


@pytest.mark.parametrize(
    ("path", "source", "words"),
    [
        (
            "core/raster.py",
            "from scalesim.stages import STAGES",
            "'core' is level 1 and imports scalesim.stages of level 2",
        ),
        (
            "metrics/crop.py",
            "from scalesim.tube.screen import Screen",
            "'metrics' is level 2 and imports scalesim.tube",
        ),
        (
            "jobs/predict/x.py",
            "def f():\n    from scalesim.io.read import read",
            "line 2: 'jobs' is level 5 and imports",
        ),
        ("page/x.py", "from scalesim.io.pictures.write import write_png", "'page' may not import"),
        ("page/x.py", "from scalesim.jobs.tune.tune import tune", "'page' may not import"),
        ("jobs/tune/x.py", "from scalesim.jobs.compare.ranking import rank", "job 'tune' imports"),
        ("errors.py", "from scalesim.result import Table", "'errors' is level 0"),
        ("io/read.py", "from scalesim.page import x", "'io' is level 5 and imports scalesim.page of level 6"),
        ("jobs/predict/x.py", "import scalesim", "imports scalesim of level 10"),
        ("chain/run.py", "import scalesim.cli.main", "imports scalesim.cli.main of level 9"),
        ("new/thing.py", "from scalesim.core import raster", "folder 'new' has no level"),
        ("core/build.py", "from scipy.sparse import csr_array", "may not import scipy.sparse"),
        ("core/operator.py", "from scipy.ndimage import shift", "may not import scipy.ndimage"),
        ("core/operator.py", "from scipy.sparse import csr_array", "import scipy inside the function"),
        ("stages/lines.py", "def f():\n    import scipy.sparse", "may not import scipy.sparse"),
        ("metrics/fidelity.py", "from skimage.metrics import x", "import skimage inside the function"),
        ("io/write.py", "import PIL.Image", "import PIL inside the function"),
        ("tube/seen.py", "def f():\n    from PIL import Image", "may not import PIL"),
        ("jobs/predict.py", "if True:\n    import matplotlib", "may not import matplotlib"),
    ],
)
def test_the_rule_notices(path: str, source: str, words: str) -> None:
    (found,) = offences(path, source)
    assert words in found


@pytest.mark.parametrize(
    ("path", "source"),
    [
        (
            "core/build.py",
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from scipy.sparse import csr_array",
        ),
        ("core/operator.py", "def f():\n    from scipy.sparse import csr_array"),
        ("metrics/fidelity.py", "def f():\n    from skimage.metrics import x"),
        ("saving.py", "from scalesim.io.folder import output_folder"),
        ("cli/main.py", "import rich_click as click\nfrom scalesim.jobs.predict.predict import predict"),
        ("jobs/tune/x.py", "from scalesim.jobs.predict.predict import predict"),
        ("jobs/demo/x.py", "from scalesim.jobs.tune.tune import tune"),
        (
            "stages/lines.py",
            "from scalesim.stages._base import stage\nimport numpy as np\nfrom math import floor",
        ),
    ],
)
def test_the_rule_allows(path: str, source: str) -> None:
    assert offences(path, source) == []


def test_the_rule_wants_whole_names() -> None:
    with pytest.raises(AssertionError, match="not with dots"):
        imports_of("from . import raster")


def test_a_cycle_is_noticed() -> None:
    a, b = "scalesim.core.raster", "scalesim.core.affine"
    lazily = {a: f"from {b} import IDENTITY", b: f"def f():\n    from {a} import Raster"}
    assert cycle_in(graph_of(lazily)) in (f"{a} imports {b} imports {a}", f"{b} imports {a} imports {b}")
    for_types = {a: f"from {b} import IDENTITY", b: f"if TYPE_CHECKING:\n    from {a} import Raster"}
    assert cycle_in(graph_of(for_types))


# starting up


HEAVY = ("matplotlib", "imageio", "av", "PIL", "tifffile", "skimage", "scipy", "numpy", "jinja2", "starlette")


@pytest.mark.parametrize("module", ["scalesim", "scalesim.cli.main"])
def test_importing_loads_nothing_heavy(module: str) -> None:
    """In a fresh interpreter, because here the tests have loaded everything."""
    loaded = _modules_after(f"import {module}")
    heavy = sorted(loaded & set(HEAVY))
    assert not heavy, (
        f"import {module} loads {', '.join(heavy)}; import them inside the functions that use them"
    )


def test_the_start_up_check_notices() -> None:
    assert "numpy" in _modules_after("import scalesim; scalesim.Chain")


def test_a_chain_is_read_without_scipy() -> None:
    """Half of the time to start is SciPy's: it waits until a chain is planned."""
    assert "scipy" not in _modules_after("import scalesim as ss; ss.Chain('line-drop lines=240').to_toml()")


def test_a_chain_is_planned_without_pictures_or_plots() -> None:
    """Planning needs NumPy and sparse matrices; no file reader, plotter or picture library."""
    ran = "import scalesim as ss; ss.Chain('line-drop lines=240').operator(ss.Raster(720, 8))"
    loaded = _modules_after(ran)
    assert "scipy" in loaded and not loaded & {
        "matplotlib",
        "imageio",
        "av",
        "PIL",
        "tifffile",
        "skimage",
        "jinja2",
    }


def _modules_after(code: str) -> set[str]:
    report = f"{code}\nimport sys\nprint(*{{name.split('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", report], capture_output=True, text=True, check=True)
    return set(done.stdout.split())
