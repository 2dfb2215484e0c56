"""Settings of all tests: the same random examples on every machine, and how goldens are accepted."""

from __future__ import annotations

import os
import signal
import sys

import pytest
from hypothesis import HealthCheck, settings

for each in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    # before NumPy is loaded: threads of several workers that wait for one another on a few cores take three
    # times the processor; so do those of the programs that tests start, which get this environment
    os.environ.setdefault(each, "1")
# a program that a test starts finds the modules compiled, and does not compile all of them anew
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

settings.register_profile(
    "fixed",
    deadline=None,
    derandomize=True,
    database=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("fixed")


if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # a shell that runs the tests in the background lets them, and the programs they start, ignore Ctrl-C
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add `--update-golden`, which accepts the pictures made now (see golden/README.md)."""
    parser.addoption("--update-golden", action="store_true", help="accept the pictures made now as golden")
