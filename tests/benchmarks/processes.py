"""What a process takes, from its start to its end, as the system counts it (wait4 and getrusage)."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from tests.support.cli import environment


class Run(NamedTuple):
    """A process: seconds of the processor, and its most memory in MB."""

    seconds: float
    megabytes: float


def alone(words: Sequence[str], kept: Path | str | None = None, *, loud: bool = False) -> Run:
    """Return what one run of a process takes; one that fails ends the measurement.

    kept: the folder in which the program finds and leaves kept results. loud: whether what it prints is shown.
    """
    shown = None if loud else subprocess.DEVNULL
    env = environment({} if kept is None else {"XDG_CACHE_HOME": str(kept)})
    child = subprocess.Popen(words, stdout=shown, stderr=shown, env=env)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        raise SystemExit(f"{' '.join(words)} left with code {child.returncode}")
    return Run(usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)
