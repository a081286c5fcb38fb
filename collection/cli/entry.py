"""Where the command begins: Ctrl-C is answered in one word even while modules are being loaded."""

from __future__ import annotations

import gc
import sys


def main() -> None:
    """Load the program, run it on the words of the command line and leave with its exit code."""
    sys.unraisablehook = _interrupt_again
    gc.set_threshold(50_000, 20, 50)  # a command ends soon; at the usual 700, long lists are searched over and over
    try:
        from collection.cli.main import main as begin

        begin()
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted.\n")
        sys.exit(130)


def _interrupt_again(dropped: sys.UnraisableHookArgs) -> None:
    """Answer a Ctrl-C that came while objects were thrown away: Python drops what is raised there and goes on.

    What is raised in here would be dropped as well, so it is raised a moment later.
    """
    if dropped.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(dropped)
        return
    import signal

    signal.signal(signal.SIGALRM, signal.default_int_handler)
    signal.setitimer(signal.ITIMER_REAL, 0.001)
