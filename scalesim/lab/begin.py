"""From what the command line names to a lab: its frames, its chains with their files, the watched folder."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from scalesim.chain import Chain
from scalesim.core.files import shown
from scalesim.errors import ReadError
from scalesim.lab.bench import Bench, free_name
from scalesim.lab.frames import Frames
from scalesim.lab.watch import Watch
from scalesim.schema import params_of


def bench_of(
    frames: Sequence[Path],
    chains: Mapping[str, Chain],
    store: Path,
    watch: Path | None,
    mode: str | None = None,
) -> Bench:
    """Return a lab.

    Parameters:
        frames : picture files; chains : text as given -> chain
        store : an empty folder for uploads; watch : folder where captures arrive
        mode : of the picture files, None by their sizes
    Raises: ReadError, ParameterError for what cannot be read; ReadError for a folder that is none
    """
    if watch is not None and not watch.is_dir():
        raise ReadError(f"{shown(watch)}: is no folder; make it, or name the one your capture program writes")
    known = Frames(store)
    named = [known.add_file(path, "named", mode) for path in frames]
    files: dict[str, Path] = {}
    short = {}
    for number, (text, chain) in enumerate(chains.items(), start=1):
        plain = _names_only(chain, files)
        label = chain.name or (Path(text).stem if text.lower().endswith(".toml") else f"chain {number}")
        short[label] = plain
    first = named[0].id if named else ""
    return Bench(known, short, files, first, shown(watch.name) if watch else "")


def _names_only(chain: Chain, files: dict[str, Path]) -> Chain:
    """Return a chain whose files are called by their names alone; add them to `files`."""
    from dataclasses import replace

    stages = []
    for stage in chain.stages:
        own = {}
        for name, schema in params_of(stage).items():
            value = getattr(stage, name)
            if schema.type == "file" and value is not None:
                path = Path(value).absolute()
                label = free_name(path.name, path, files)
                files[label] = path
                own[name] = label
        stages.append(replace(stage, **own) if own else stage)
    return chain.with_stages(stages)


@contextmanager
def watching(bench: Bench, folder: Path | None) -> Iterator[None]:
    """Watch a folder as long as the lab runs, and tell its pages."""
    if folder is None:
        yield
        return
    watch = Watch(
        folder,
        bench.frames,
        lambda known: bench.tell(
            {"kind": "watched", "frame": bench.frames.described(known), "position": None}
        ),
        lambda text: bench.tell({"kind": "watch-error", "message": text}),
    )
    watch.start()
    try:
        yield
    finally:
        watch.stop()
