"""The program `scalesim`, and ``python -m scalesim``: signals are answered before anything else is loaded."""

import sys

from scalesim import interrupt


def main() -> int:
    """Run the command line as a process of its own; return its exit code."""
    interrupt.install()
    from scalesim.cli.main import main as command_line

    code = command_line()
    interrupt.no_more()
    return code


if __name__ == "__main__":
    sys.exit(main())
