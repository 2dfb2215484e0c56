"""Settings of all tests: the same random examples on every machine, and how goldens are accepted."""

from __future__ import annotations

import signal

import pytest
from hypothesis import HealthCheck, settings

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
