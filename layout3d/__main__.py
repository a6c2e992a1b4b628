"""Runs the command as ``python -m layout3d``."""

import sys

from layout3d.cli import main

if __name__ == "__main__":
    sys.exit(main())
