"""What a task of a study leaves behind: nothing that came in it, and what was there before as it was."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Iterator
from types import SimpleNamespace

import pytest

from scalesim.core import compiled
from scalesim.errors import ReadError, ScalesimError
from scalesim.jobs.compare.study.work import _given_back, each


class Held:
    """An object that holds itself, as some of a decoder's do."""

    def __init__(self) -> None:
        self.itself = self


@pytest.fixture(autouse=True)
def by_hand() -> Iterator[None]:
    gc.collect()
    gc.disable()
    yield
    gc.enable()


def test_what_holds_itself_is_let_go() -> None:
    with _given_back():
        gone = weakref.ref(Held())
        assert gone() is not None
    assert gone() is None


def test_what_was_there_before_is_not_looked_through_and_is_looked_through_again_after() -> None:
    before = weakref.ref(Held())
    with _given_back():
        assert gc.get_freeze_count() > 1000
    assert before() is not None and gc.get_freeze_count() == 0
    gc.collect()
    assert before() is None


def test_who_froze_objects_keeps_them_frozen() -> None:
    gc.freeze()
    try:
        with _given_back():
            pass
        assert gc.get_freeze_count() > 1000
    finally:
        gc.unfreeze()


def test_a_task_that_fails_leaves_nothing_frozen() -> None:
    with pytest.raises(ValueError), _given_back():
        raise ValueError
    assert gc.get_freeze_count() == 0


def test_compiled_loops_are_there_for_the_task_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is predicted after a study in the same process does not depend on it."""
    monkeypatch.setattr(compiled, "_found", lambda _: "loops")
    during: list[object] = []

    def stills() -> Iterator[tuple[int, ScalesimError]]:
        during.append(compiled.compiled())
        yield 0, ReadError("broken")

    for many in (True, False):
        asked = SimpleNamespace(many=many, chains=())
        work = SimpleNamespace(asked=asked, part=SimpleNamespace(stills=stills), source="clip")
        assert len(list(each(work))) == 1  # type: ignore[arg-type]
        assert compiled.compiled() is None
    assert during == ["loops", None]
