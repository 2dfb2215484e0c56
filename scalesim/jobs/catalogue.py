"""Every job, found by its folder: what a command line or a page can offer."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

import scalesim.jobs as folder
from scalesim.job import Job


@cache
def jobs() -> dict[str, Job]:
    """Return name -> job, in the order of a reviewer's work. Loads no numerics."""
    modules = (
        import_module(f"{folder.__name__}.{each.name}")
        for each in iter_modules(folder.__path__)
        if each.ispkg
    )
    found = [job for module in modules for job in (getattr(module, "JOB", None),) if isinstance(job, Job)]
    return {job.name: job for job in sorted(found, key=lambda job: (job.step, job.name))}
