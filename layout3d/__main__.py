"""Runs the command, as ``layout3d`` and as ``python -m layout3d``.

Ctrl-C while it loads, and once it is done, ends the process at once and without a word.
"""

import signal
import sys

__all__ = ["run"]


def run() -> int:
    """Load the command line, run one command, and return its exit code."""
    ours = signal.getsignal(signal.SIGINT) is signal.default_int_handler  # else it is ignored, or a host's
    if ours:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from layout3d.cli import main

    if ours:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    code = main()
    if ours:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    return code


if __name__ == "__main__":
    sys.exit(run())
