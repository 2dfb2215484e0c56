"""The command `scalesim`: one line for an error, and the exit codes.

0 done; 1 the verdict is "cannot tell"; 2 bad usage or input; 130 interrupted (Ctrl-C), 143 asked to end
(SIGTERM). Commands are imported when they are called, so that `--help` loads no numerics.
"""

from __future__ import annotations

import errno
import logging
import os
import sys
import warnings
from collections.abc import Sequence
from functools import cache
from importlib import import_module
from pathlib import Path

import rich_click as click
from click.exceptions import Exit

from scalesim import interrupt
from scalesim.jobs.catalogue import jobs
from scalesim.texts import echoed, plain, shortened
from scalesim.version import __version__

SERVICES = ("report", "lab", "schema")
"""Commands that are no jobs."""

PAGES = Path(__file__).parent
"""A file here that is named as a job gives that job's command; other jobs' commands are built."""


TRACEBACK = "SCALESIM_TRACEBACK"
"""Environment variable that lets a fault of the program show its traceback."""

EXIT_INPUT = 2
EXIT_INTERRUPTED = 130


@cache
def commands() -> tuple[str, ...]:
    """Return the names of all commands: the jobs in the order of a reviewer's work, then what serves them."""
    return (*jobs(), *SERVICES)


class LazyGroup(click.RichGroup):
    """A group whose commands are imported only when one of them is called or helped with."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order they are listed."""
        return list(commands())

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """Return the command, imported or built now; it loads no numerics before it runs."""
        if name not in commands():
            return None
        if not (PAGES / f"{name}.py").is_file():
            from scalesim.cli.build import command_of

            return command_of(jobs()[name])
        command = import_module(f"scalesim.cli.{name}").command
        return command if isinstance(command, click.Command) else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Answer an unknown command with the nearest one."""
        if args[0] not in commands():
            from scalesim.errors import nearest

            raise click.UsageError(f"unknown command '{args[0]}'; {nearest(args[0][:80], commands())}")
        name, command, rest = super().resolve_command(ctx, args)
        if command is not None:
            _once(command, rest)
        return name, command, rest


def _once(command: click.Command, words: Sequence[str]) -> None:
    """Refuse a second chain or display where one is taken: else the last would be it, and none be told.

    Raises: click.UsageError
    """
    one = {
        option
        for each in command.params
        if isinstance(each, click.Option) and not each.multiple
        for option in each.opts
        if option in ("--chain", "--display")
    }
    given = [word.partition("=")[0] for word in words]
    for option in sorted(one):
        if (many := given.count(option)) > 1:
            raise click.UsageError(
                f"{option} is given {many} times and {command.name} takes one; compare takes several"
            )


@click.group(
    cls=LazyGroup, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="scalesim", message="%(prog)s %(version)s")
@click.pass_context
def app(ctx: click.Context) -> None:
    """Test chains of video scalers that bring a modern console's picture to a 15 kHz CRT.

    Example: scalesim predict frame.png --chain "line-average lines=480, line-drop lines=240 phase=1"

    Exit codes: 0 done; 1 the verdict is "cannot tell"; 2 bad usage or input; 130 interrupted (Ctrl-C);
    143 asked to end (SIGTERM).
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; no traceback reaches the user."""
    interrupt.stands()
    _tolerant_output()
    if argv is None:
        _silence_libraries()
        _products_alone()
    try:
        words = _typed() if argv is None else list(argv)
        result = app.main(args=words, prog_name="scalesim", standalone_mode=False)
        _say_all()
        return result if isinstance(result, int) else 0
    except Exit as stop:
        return stop.exit_code
    except interrupt.Interrupted as stop:
        return _stopped(stop.code)
    except (click.Abort, KeyboardInterrupt):
        return _stopped(interrupt.code_heard(EXIT_INTERRUPTED))
    except (Exception, SystemExit) as error:
        if interrupt.was_heard():  # a library made another error of it
            return _stopped(interrupt.code_heard(EXIT_INTERRUPTED))
        return _ended_by(error)


def _ended_by(error: Exception | SystemExit) -> int:
    """Say in one line what ended the command; return its exit code."""
    from scalesim.errors import ScalesimError

    match error:
        case click.ClickException():
            return _say(_usage(error), EXIT_INPUT)
        case ScalesimError():
            return _say(str(error), EXIT_INPUT)
        case OSError() if _reader_went_away(error):
            return _unheard()
        case OSError():
            return _say(
                f"cannot write ({error.strerror or error}); check the disk and the output", EXIT_INPUT
            )
        case SystemExit():  # click and Rich end so when a reader went away, with a code that is a verdict's
            return _unheard()
        case MemoryError():
            return _say("the picture needs more memory than there is; reduce it first", EXIT_INPUT)
    if os.environ.get(TRACEBACK):
        raise error
    fault = f"{type(error).__name__}: {echoed(error)}"
    return _say(f"a fault of the program ({fault}); set {TRACEBACK}=1 to see where", EXIT_INPUT)


def _products_alone() -> None:
    """Let NumPy multiply matrices on the thread that asks, unless the user's environment says otherwise.

    The jobs have threads of their own. With those of the library besides, each waited for the others: metrics
    of a 1080p frame took three times as much of the processors, and longer on the clock.
    """
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")


def _typed() -> list[str]:
    """Return the words of the command line as they were typed.

    On Windows click, left to itself, would make files of every word with * or ?, also of a pattern in quotes
    that names one sequence, and put variables into chains.
    """
    words = sys.argv[1:]
    return [os.path.expanduser(word) for word in words] if os.name == "nt" else words


def _reader_went_away(error: OSError, system: str = os.name) -> bool:
    """Return whether a pipe that was written to has no reader any more; Windows calls that EINVAL."""
    unnamed = error.errno == errno.EINVAL and error.filename is None
    return isinstance(error, BrokenPipeError) or (system == "nt" and unnamed)


def _say_all() -> None:
    """Print now what waits to be printed: when the program has ended, a reader that went away makes noise."""
    try:
        sys.stdout.flush()
    except OSError as error:
        if not _reader_went_away(error):
            raise
        _unheard()


def _unheard() -> int:
    """End well: who does not read on has what they wanted. What is still to be written goes nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _usage(error: click.ClickException) -> str:
    text = " ".join(error.format_message().split())
    context = getattr(error, "ctx", None)
    where = f"; see {context.command_path} --help" if context is not None else ""
    return f"{text.rstrip('.')}{where}"


def _say(message: str, code: int) -> int:
    print(f"scalesim: {plain(shortened(' '.join(message.split())))}", file=sys.stderr)
    return code


def _stopped(code: int) -> int:
    interrupt.no_more()
    return _say(interrupt.words(), code)


def _silence_libraries() -> None:
    """Keep what libraries say to programmers off the terminal, unless Python was asked to show it."""
    if not sys.warnoptions and not os.environ.get(TRACEBACK):
        warnings.simplefilter("ignore")
        logging.getLogger().addHandler(logging.NullHandler())


def _tolerant_output() -> None:
    """Let a terminal that lacks a character show another instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
