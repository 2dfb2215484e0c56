"""``python -m scalesim`` is the command line."""

import sys

from scalesim.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
