"""``scalesim schema``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import rich_click as click

KINDS = ("chain", "stage", "display", "camera", "note", "study", "operator")


@click.command("schema")
@click.argument("kind", type=click.Choice(KINDS))
@click.option("--json", "as_json", is_flag=True, help="The same: it is always one JSON document.")
def command(kind: str, as_json: bool) -> int:
    """Print the JSON Schema of a KIND of file, so that an editor checks and completes it.

    Example: scalesim schema display > display.schema.json

    chain: a chain's file. stage: one of its [[stage]] tables. display: a tube for --display. camera: for
    glass --camera. note: what was
    written down beside a frame. study: frames and chains for compare. operator: the line weights of a box.
    Units and meanings stand in the descriptions. What two keys must agree on is checked when a file is read.
    """
    from scalesim.cli.show import show_json

    show_json(schema_of(kind))
    return 0


def schema_of(kind: str) -> dict[str, Any]:
    """Return the JSON Schema of one of `KINDS`, made from the schemas that check the files."""
    makers: dict[str, Callable[[], dict[str, Any]]] = {
        "chain": _chain,
        "stage": _stage,
        "display": _display,
        "camera": _camera,
        "note": _note,
        "study": _study,
        "operator": _operator,
    }
    from scalesim.schema.json_schema import document

    return document(f"scalesim {kind}", makers[kind]())


def _stage() -> dict[str, Any]:
    from scalesim.schema import params_of
    from scalesim.schema.json_schema import kinds_schema
    from scalesim.stages import STAGES

    return kinds_schema(
        {kind: params_of(stage) for kind, stage in STAGES.items()},
        docs={kind: _first_line(stage) for kind, stage in STAGES.items()},
        examples=[{"kind": kind, **stage.example} for kind, stage in STAGES.items()],
    )


def _chain() -> dict[str, Any]:
    from scalesim.chain.toml import CHAIN, DIAL
    from scalesim.schema.json_schema import list_of, table_schema

    example = {"name": "sharp", "stage": [{"kind": "line-drop", "lines": 240, "phase": 1}]}
    table = table_schema(CHAIN, "boxes in series", example)
    steps = {"oneOf": [{"required": ["steps"]}, {"required": ["first", "last", "step"]}]}
    parts = {"stage": {"$ref": "#/$defs/stage"}, "dial": {**table_schema(DIAL), **steps}}
    return {**list_of(table, parts), "$defs": {"stage": _stage()}}


def _display() -> dict[str, Any]:
    from scalesim.schema import params_of
    from scalesim.schema.json_schema import table_schema
    from scalesim.tube.display import Display

    example = {"name": "study", "diagonal_mm": 500, "aspect": "4:3", "tv_lines": 400, "beam_width": 0.7}
    table = table_schema(params_of(Display), _first_line(Display), example)
    vertical = {**table["properties"]["vertical"], **_vertical()}
    return {**table, "properties": {**table["properties"], "vertical": vertical}}


def _vertical() -> dict[str, Any]:
    from scalesim.schema import params_of
    from scalesim.schema.json_schema import kinds_schema
    from scalesim.tube.lock.circuit import KINDS

    return kinds_schema(
        {kind: params_of(circuit) for kind, circuit in KINDS.items()},
        docs={kind: _first_line(circuit) for kind, circuit in KINDS.items()},
        examples=[{"kind": "integrator", "time_constant_us": 30, "threshold_v": 2.5, "swing_v": 5}],
    )


def _camera() -> dict[str, Any]:
    from scalesim.core.camera import Camera
    from scalesim.schema import params_of
    from scalesim.schema.json_schema import table_schema

    example = {"name": "my phone", "pixel_um": 1.4, "focal_mm": 4.3, "rows": 3024, "columns": 4032}
    return table_schema(params_of(Camera), _first_line(Camera), example)


def _note() -> dict[str, Any]:
    from scalesim.io.notes import NOTE
    from scalesim.schema.json_schema import table_schema

    example = {"box": "grey box", "firmware": "1.2", "source_mode": "720p60", "dials": {"sharpness": 2}}
    return table_schema(NOTE, "what was written down beside a frame", example)


def _study() -> dict[str, Any]:
    from scalesim.io.notes import CHAIN_OF_STUDY, STUDY
    from scalesim.schema.json_schema import list_of, table_schema

    chain = {"name": "sharp", "text": "line-drop lines=240 phase=1"}
    example = {"frames": ["frames/*.png"], "by": ["edge_spread_lines"], "chain": [chain]}
    either = {"oneOf": [{"required": ["text"]}, {"required": ["file"]}]}
    table = table_schema(STUDY, "frames and chains to compare", example)
    return list_of(table, {"chain": {**table_schema(CHAIN_OF_STUDY), **either}})


def _operator() -> dict[str, Any]:
    from scalesim.core.operator_file import MARK, OPERATOR
    from scalesim.schema.json_schema import table_schema

    field = {"parity": 0, "landing": "0", "phase": 0.0, "rows": [[0, [0.5, 0.5]], [2, [0.5, 0.5]]]}
    example = {MARK: 1, "lines_in": 4, "fields_in": 1, "encoding": "code", "step": 2, "fields": [field]}
    return table_schema(OPERATOR, "the line weights of a box", example)


def _first_line(thing: type) -> str:
    return (thing.__doc__ or "").strip().splitlines()[0]
