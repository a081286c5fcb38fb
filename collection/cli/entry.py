"""Where the command begins: Ctrl-C is answered in one word even while modules are being loaded."""

from __future__ import annotations

import gc
import sys


def main() -> None:
    """Load the program, run it on the words of the command line and leave with its exit code."""
    gc.set_threshold(50_000, 20, 50)  # a command ends soon; at the usual 700, long lists are searched over and over
    try:
        from collection.cli.main import main as begin

        begin()
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted.\n")
        sys.exit(130)
