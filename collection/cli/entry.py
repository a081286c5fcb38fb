"""Where the command begins: Ctrl-C is answered in one word even while modules are being loaded."""

from __future__ import annotations

import sys


def main() -> None:
    """Load the program, run it on the words of the command line and leave with its exit code."""
    try:
        from collection.cli.main import main as begin

        begin()
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted.\n")
        sys.exit(130)
