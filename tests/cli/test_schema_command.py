"""``scalesim schema``: judged by the `jsonschema` package, a reference implementation of draft 2020-12.

What the program ships and the README shows must validate; what the program refuses must not.
"""

from __future__ import annotations

import datetime
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import scalesim
from scalesim.chain import Chain
from scalesim.cli.main import main
from scalesim.cli.schema import KINDS, schema_of
from scalesim.core.operator_file import MARK, OperatorFile
from scalesim.errors import ScalesimError
from scalesim.io.notes import note_beside, read_study
from scalesim.tube.display import DISPLAYS, Display

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
SHIPPED = tomllib.loads((Path(scalesim.__file__).parent / "tube" / "displays.toml").read_text("utf-8"))
CHAINS = sorted((ROOT / "inputs" / "chains").glob("*.toml"))


def validates(kind: str, document: Any) -> bool:
    """Tell whether a document is valid; dates are texts to an editor, as in JSON."""
    plain = json.loads(json.dumps(document, default=lambda value: value.isoformat()))
    return jsonschema.Draft202012Validator(schema_of(kind)).is_valid(plain)


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_a_schema_and_its_examples_fit(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", kind]) == 0
    printed = capsys.readouterr().out
    assert main(["schema", kind, "--json"]) == 0
    assert capsys.readouterr().out == printed
    schema = json.loads(printed)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["examples"]
    for example in schema["examples"]:
        assert validates(kind, example), example
        assert not validates(kind, {**example, "colour_of_the_case": "grey"})


def test_an_unknown_kind(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "box"]) == 2
    said = capsys.readouterr().err
    assert "'box'" in said and "display" in said and said.count("\n") == 1


def test_every_key_is_described() -> None:
    """Every property of every table has a meaning for people."""
    for kind in KINDS:
        lacking = [name for name, value in _properties(schema_of(kind)) if "description" not in value]
        assert not lacking, f"{kind}: {lacking}"


def _properties(schema: Any) -> list[tuple[str, Any]]:
    if isinstance(schema, list):
        return [pair for part in schema for pair in _properties(part)]
    if not isinstance(schema, dict):
        return []
    own = schema.get("properties", {})
    # the word of a kind, in a condition or where it holds, needs no description beside that of all kinds
    pairs = [(name, value) for name, value in own.items() if "const" not in value]
    rest = [value for name, value in schema.items() if name not in ("properties", "examples", "default")]
    return pairs + [pair for part in [*own.values(), *rest] for pair in _properties(part)]


def test_units_stand_in_the_descriptions() -> None:
    keys = schema_of("display")["properties"]
    assert keys["diagonal_mm"]["description"].endswith("[mm]") and keys["diagonal_mm"]["minimum"] == 50
    assert keys["mask"] == {
        "description": "pattern of the phosphors",
        "enum": ["none", "stripes", "slots"],
        "default": "none",
    }


@pytest.mark.parametrize("key", SHIPPED)
def test_shipped_displays(key: str) -> None:
    assert key in DISPLAYS and validates("display", SHIPPED[key])
    for wrong in (
        {"tv_lines": 10},
        {"tv_lines": "400"},
        {"aspect": "3:2"},
        {"decay_ms": [1, 0.1]},
        {"mask": 3},
        {"lines": 3},
    ):
        assert not validates("display", {**SHIPPED[key], **wrong})
        with pytest.raises(ScalesimError):
            Display.from_toml(_flat({**SHIPPED[key], **wrong}))
    short = {name: value for name, value in SHIPPED[key].items() if name != "tv_lines"}
    assert not validates("display", short)


def _flat(keys: dict[str, Any]) -> str:
    return "\n".join(f"{key} = {json.dumps(value)}" for key, value in keys.items())


@pytest.mark.parametrize("path", CHAINS, ids=lambda path: path.stem)
def test_chain_files(path: Path) -> None:
    document = tomllib.loads(path.read_text("utf-8"))
    assert validates("chain", document) and all(validates("stage", stage) for stage in document["stage"])


def test_the_readmes_files() -> None:
    """Its chain, its note and its study, as they stand."""
    blocks = [
        tomllib.loads(text)
        for language, text in re.findall(r"^```(toml|text)\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
        if language == "toml" or re.match(r"(box|frames) = ", text)
    ]
    kinds = ["chain" if "stage" in block else "study" if "frames" in block else "note" for block in blocks]
    assert {"chain", "study", "note"} == set(kinds)
    for kind, block in zip(kinds, blocks, strict=True):
        assert validates(kind, block), block


GOOD_STAGES = (
    'kind = "line-drop"\nlines = "240"\nphase = "1/3"',
    'kind = "flicker-filter"\ntaps = [0.25, 0.5, 0.25]',
    'kind = "flicker-filter"\ntaps = "paired"',
    'kind = "flicker-filter"\ntaps = "1/6/1"',
    'kind = "resample"\nlines = 240\nantialias = "off"',
    'kind = "resample"\nsamples = 640\nantialias = false',
    'kind = "fit"\naspect = 1.25',
    'kind = "fit"\naspect = "16:9"',
    'kind = "band-limit"\nmhz = 4.2',
    'kind = "interlace"',
)
BAD_STAGES = (
    "lines = 240",
    'kind = "line-drp"\nlines = 240',
    'kind = "line-drop"',
    'kind = "line-drop"\nlines = 0',
    'kind = "line-drop"\nlines = 240.5',
    'kind = "line-drop"\nlines = true',
    'kind = "line-drop"\nlines = "many"',
    'kind = "line-drop"\nlines = 240\nedge = "mirror"',
    'kind = "line-drop"\nlines = 240\ntaps = "1/2/1"',
    'kind = "flicker-filter"\ntaps = {a = 1}',
    'kind = "flicker-filter"\ntaps = []',
    'kind = "resample"\nlines = 240\nantialias = 2',
    'kind = "band-limit"\nmhz = 0',
    'kind = "fit"\naspect = "wide"',
    'kind = "measured"\nfile = " "',
)


@pytest.mark.parametrize("body", GOOD_STAGES)
def test_stages_that_are_read_validate(body: str) -> None:
    text = f"[[stage]]\n{body}\n"
    Chain.from_toml(text)
    assert validates("chain", tomllib.loads(text)) and validates("stage", tomllib.loads(body))


@pytest.mark.parametrize("body", BAD_STAGES)
def test_stages_that_are_refused_do_not(body: str) -> None:
    text = f"[[stage]]\n{body}\n"
    with pytest.raises(ScalesimError):
        Chain.from_toml(text)
    assert not validates("chain", tomllib.loads(text)) and not validates("stage", tomllib.loads(body))


CHAIN = '[[stage]]\nkind = "position"\n'


@pytest.mark.parametrize(
    ("text", "good"),
    [
        (CHAIN + '[[dial]]\nkey = "position.lines"\nsteps = [0, 1]', True),
        (
            CHAIN
            + '[[dial]]\nkey = "position.lines"\nlabel = "wheel"\nfirst = 0\nlast = "2/3"\nstep = "1/3"',
            True,
        ),
        (CHAIN + '[[dial]]\nkey = "position.lines"', False),
        (CHAIN + '[[dial]]\nkey = "position.lines"\nfirst = 0\nlast = 1', False),
        (CHAIN + "[[dial]]\nsteps = [0]", False),
        (CHAIN + '[[dial]]\nkey = "position.lines"\nsteps = [0]\nlabl = "x"', False),
        ("name = 3\n" + CHAIN, False),
        ("stage = []", False),
        ('name = "x"', False),
    ],
)
def test_chains(text: str, good: bool) -> None:
    assert validates("chain", tomllib.loads(text)) is good
    if good:
        Chain.from_toml(text)
    else:
        with pytest.raises(ScalesimError):
            Chain.from_toml(text)


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ("firmware = 1.2\nunit = 3\ndate = 2024-03-05", True),
        ('dials = "sharp 3"\nremark = "loud fan"\ndate = "2024-03"', True),
        ('minutes_on = "30"', True),
        ("minutes_on = -1", False),
        ('minutes_on = "long"', False),
        ('date = "spring"', False),
        ("box = [1]", False),
        ('range = "ful"', False),
        ("source_mode = 720", False),
        ('bx = "grey"', False),
    ],
)
def test_notes(tmp_path: Path, text: str, good: bool) -> None:
    (tmp_path / "a.toml").write_text(text, "utf-8")
    assert validates("note", tomllib.loads(text)) is good
    if good:
        note_beside(tmp_path / "a.png")
    else:
        with pytest.raises(ScalesimError):
            note_beside(tmp_path / "a.png")


STUDY = '[[chain]]\ntext = "line-drop lines=240"\n'


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ('frames = ["a.png"]\nby = "ssim, detail"\ncrop = [0, 0, 16, 16]\ntube = "16:9"\n' + STUDY, True),
        ('frames = ["a.png"]\ngroup_by = "display"\ncrop = "0,0,16,16"\n' + STUDY, True),
        ('frames = "a.png"\n' + STUDY, False),
        ("frames = []\n" + STUDY, False),
        ('frames = ["a.png"]', False),
        ('frames = ["a.png"]\n[[chain]]\nname = "x"', False),
        ('frames = ["a.png"]\n[[chain]]\ntext = "interlace"\nfile = "a.toml"', False),
        ('frames = ["a.png"]\ncrop = [1, 2, 3]\n' + STUDY, False),
        ('frames = ["a.png"]\ncrop = [1, 2, 3, -4]\n' + STUDY, False),
        ('frames = ["a.png"]\ntube = "3:2"\n' + STUDY, False),
        ('frames = ["a.png"]\nby = [1]\n' + STUDY, False),
        ('frames = ["a.png"]\ngroup_by = "weather"\n' + STUDY, False),
    ],
)
def test_studies(tmp_path: Path, text: str, good: bool) -> None:
    path = tmp_path / "s.toml"
    path.write_text(text, "utf-8")
    assert validates("study", tomllib.loads(text)) is good
    if good:
        read_study(path)
    else:
        with pytest.raises(ScalesimError):
            read_study(path)


FIELD = {"parity": 0, "landing": "1/2", "phase": 0.5, "rows": [[0, [0.5, 0.5]], [-1, [1]]]}
OPERATOR = {MARK: 1, "lines_in": 4, "fields_in": 1, "encoding": "code", "step": 2, "fields": [FIELD]}


@pytest.mark.parametrize(
    ("changes", "good"),
    [
        ({}, True),
        ({"title": "a box"}, True),
        ({MARK: 2}, False),
        ({"lines_in": "4"}, False),
        ({"step": 0}, False),
        ({"encoding": "gamma"}, False),
        ({"fields": []}, False),
        ({"fields": [{**FIELD, "landing": 0}]}, False),
        ({"fields": [{**FIELD, "rows": [[0, [65]]]}]}, False),
        ({"fields": [{**FIELD, "rows": [[0, []]]}]}, False),
        ({"fields": [{**FIELD, "rows": [[0]]}]}, False),
        ({"fields": [{**FIELD, "rows": [[0, [1], 2]]}]}, False),
        ({"setp": 2}, False),
    ],
)
def test_operator_files(changes: dict[str, Any], good: bool) -> None:
    document = {**OPERATOR, **changes}
    assert validates("operator", document) is good
    if good:
        OperatorFile.from_json(json.dumps(document))
    else:
        with pytest.raises(ScalesimError):
            OperatorFile.from_json(json.dumps(document))


def test_help_loads_no_numerics() -> None:
    report = (
        "from scalesim.cli.main import main\nmain(['schema', '--help'])\nimport sys\n"
        "print('LOADED', *{name.split('.')[0] for name in sys.modules})"
    )
    done = subprocess.run([sys.executable, "-c", report], capture_output=True, text=True, check=True)
    said, loaded = done.stdout.split("LOADED")
    assert "scalesim schema display" in said
    assert not {"numpy", "scipy", "PIL", "tomlkit"} & set(loaded.split())


def test_a_date_is_a_text_to_an_editor() -> None:
    assert validates("note", {"date": datetime.date(2024, 3, 5)})
