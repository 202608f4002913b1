"""`python -m gearfit` is `gearfit`."""

import sys

from gearfit.commands.cli import main

if __name__ == "__main__":
    sys.exit(main())
