"""How rows are laid out in the database: who was compared, on what, and one row a frame and contestant.

A row is told from every other by clip, frame, contestant and version: what was measured once is never
counted twice, and rows of an earlier version stay beside those of a new one.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

LAYOUT = 1
"""Grows when what is written here changes its meaning."""

TEXTS = ("kind", "raster", "mode_in", "mode_out")
BESIDE = ("n", "how", "why")
"""Kept as JSON, "" for nothing: by metric how much a value rests on, how it was had, why there is none."""

FRAME_ITSELF = -1
"""Stands for the contestant where the frame itself could not be had."""


@dataclass(frozen=True)
class Contestant:
    """Who is measured: a chain at a setting, on a display.

    Parameters:
        label : as tables name it; mark : tells it from every other, whatever it is called
        chain : its text; setting : of its dials, "" for none; display : key of a tube, "" for none
    """

    label: str
    mark: str
    chain: str
    setting: str = ""
    display: str = ""


@dataclass(frozen=True)
class Source:
    """On what is measured: a clip or a picture.

    Parameters:
        name : of its file; mark : tells its content from every other's
        rate : whole frames a second as a fraction's text, "" of a picture; settings : what notes say
        damage : what the file itself tells is missing
    """

    name: str
    mark: str
    rate: str = ""
    settings: dict[str, Any] = field(default_factory=dict)
    damage: tuple[str, ...] = ()


def make_tables(database: sqlite3.Connection, metrics: Sequence[str]) -> None:
    """Make the tables of a new database."""
    columns = ", ".join(f"{quoted(name)} REAL" for name in metrics)
    texts = ", ".join(f"{name} TEXT NOT NULL" for name in (*TEXTS, *BESIDE))
    database.executescript(f"""
        CREATE TABLE IF NOT EXISTS study (key TEXT PRIMARY KEY, value TEXT NOT NULL);
        CREATE TABLE IF NOT EXISTS sources (
            id INTEGER PRIMARY KEY, mark TEXT UNIQUE NOT NULL, name TEXT NOT NULL, rate TEXT NOT NULL,
            settings TEXT NOT NULL, damage TEXT NOT NULL);
        CREATE TABLE IF NOT EXISTS contestants (
            id INTEGER PRIMARY KEY, mark TEXT UNIQUE NOT NULL, label TEXT NOT NULL, chain TEXT NOT NULL,
            setting TEXT NOT NULL, display TEXT NOT NULL);
        CREATE TABLE IF NOT EXISTS measured (
            source INTEGER, frame INTEGER, contestant INTEGER, version TEXT, {texts}, {columns},
            PRIMARY KEY (source, frame, contestant, version)) WITHOUT ROWID;
        CREATE TABLE IF NOT EXISTS not_done (
            source INTEGER, frame INTEGER, contestant INTEGER, version TEXT, why TEXT NOT NULL,
            PRIMARY KEY (source, frame, contestant, version)) WITHOUT ROWID;
    """)


def quoted(name: str) -> str:
    """Return a name as SQL takes it for a column."""
    return '"' + name.replace('"', '""') + '"'
