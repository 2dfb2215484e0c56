"""A progress bar on standard error."""

from __future__ import annotations

from typing import Any

from scalesim.texts import plain


class Progress:
    """A bar over a number of steps (None when it is not known), with the time left.

    Call it with what comes next. With `per` the rate is shown, in frames that take so many steps each.

    With no terminal nothing is drawn, so logs and pipes stay clean.
    """

    def __init__(self, steps: int | None, per: int = 0) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
        from rich.progress import Progress as Bar
        from rich.text import Text

        class Rate(TextColumn):
            """Frames a second, each of so many steps."""

            def render(self, task: Any) -> Text:
                return Text(f"{task.speed / per:.2f} frames/s" if per and task.speed else "")

        console = Console(stderr=True)
        columns = (
            BarColumn(),
            MofNCompleteColumn(),
            *([Rate("")] if per else []),
            TimeRemainingColumn(),
            TextColumn("{task.description}", markup=False),
        )
        self._bar = Bar(*columns, console=console, transient=True, disable=not console.is_terminal)
        self._task = self._bar.add_task("", total=steps)
        self._begun = False

    def __enter__(self) -> Progress:
        self._bar.start()
        return self

    def __exit__(self, *_: Any) -> None:
        self._bar.stop()

    def __call__(self, next_step: str) -> None:
        """Count the step before as done and show the next one's name."""
        self._bar.update(self._task, advance=1 if self._begun else 0, description=plain(next_step))
        self._begun = True
