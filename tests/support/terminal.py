"""Run the program at a terminal of a given width and return what it shows."""

from __future__ import annotations

from pathlib import Path

import pexpect

from tests.support.cli import environment
from tests.support.times import TODAY
from tests.support.warm import warm_program


def screen(*args: str, db: Path, columns: int) -> str:
    """Return the lines that a command leaves on a terminal, without bold letters and blanks at line ends."""
    clean = {name: value for name, value in environment().items() if name not in ("COLUMNS", "NO_COLOR")}
    child = pexpect.spawn(
        warm_program()[0],
        [*warm_program()[1:], "--no-color", "--db", str(db), "--today", TODAY.isoformat(), *args],
        env={**clean, "TERM": "xterm"},
        dimensions=(50, columns),
        encoding="utf-8",
        timeout=60,
    )
    text = str(child.read())
    child.close()
    return "\n".join(line.rstrip() for line in text.splitlines()) + "\n"
