"""How long a guided service takes to echo an answer at a real terminal, beside what the disk alone takes.

    python -m tests.benchmarks.bench_guide [BOOK] [TAG]

Without a book the demo is served from, in a temporary folder. An answer is sent and the time taken until the next
question stands there; the answer is then in the book, so each figure holds one act with its flushes to the disk.
Beside it: a bare SQLite commit of one row in the same folder. TMPDIR=/dev/shm shows the program without the disk.
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import pexpect

from tests.support.cli import environment, program, run_process

# Beginning of a question: the answers it gets, one after the other; Enter to all others, and the end at the outcome.
ANSWERS = {
    "spindle speed (295": ["301.9 @bench counter", "300.1"],
    "belt condition (": ["pass"],
    "head condition (": ["marginal", "pass"],
    "which of them": ["clean head"],
    "another supply used": ["isopropyl alcohol 99 %=0.3 ml"],
    "findings": ["dust on the spindle", "dust on the belt"],
    "minutes of work": ["back", "25"],
}


def main() -> int:
    """Print every echo, the median, the worst and the floor; leave with 1 if the worst is over 50 ms."""
    with tempfile.TemporaryDirectory() as folder:
        book = sys.argv[1] if len(sys.argv) > 1 else _demo(Path(folder))
        tag = sys.argv[2] if len(sys.argv) > 2 else "D1"
        started, echoes = _served(book, tag)
        floor = _commit(Path(book).parent)
    times = [took for _, took in echoes]
    lines = [f"{took:7.1f} ms  {what}" for what, took in echoes]
    lines.append(f"first question after {started:.0f} ms; a bare SQLite commit alone: {floor:.2f} ms")
    median, worst = statistics.median(times), max(times)
    lines.append(f"{len(times)} answers: median {median:.1f} ms, worst {worst:.1f} ms (at most 50)")
    sys.stdout.write("\n".join(lines) + "\n")
    return int(worst > 50)


def _demo(folder: Path) -> str:
    book = folder / "book.db"
    ran = run_process(["--db", str(book), "--today", "2026-03-01", "demo"])
    if ran.code:
        raise SystemExit(ran.err)
    return str(book)


def _served(book: str, tag: str) -> tuple[float, list[tuple[str, float]]]:
    """Return milliseconds until the first question, and of every answer until the next one."""
    words = program("--no-color", "--db", book, "--today", "2026-03-01", "service", "record", tag)
    began = time.perf_counter()
    child = pexpect.spawn(
        words[0], words[1:], env={**environment(), "TERM": "xterm"}, dimensions=(50, 120), encoding="utf-8", timeout=60
    )
    child.delaybeforesend = None
    child.expect(r": $")
    started, echoes = 1000 * (time.perf_counter() - began), []
    asked = str(child.before).splitlines()[-1]
    while not asked.startswith("outcome"):
        answers = next((left for start, left in ANSWERS.items() if asked.startswith(start)), [])
        answer = answers.pop(0) if answers else ""
        began = time.perf_counter()
        child.sendline(answer)
        child.expect(r"\n[^\n]*: $")
        echoes.append((f"{asked[:40]}: {answer}", 1000 * (time.perf_counter() - began)))
        asked = str(child.after).strip()
    child.sendline("skip")
    child.expect(pexpect.EOF)
    child.close()
    return started, echoes


def _commit(folder: Path) -> float:
    """Return milliseconds of a bare commit that is kept as surely as the book keeps one, median of fifty."""
    times = []
    with tempfile.TemporaryDirectory(dir=folder) as place, closing(sqlite3.connect(Path(place) / "floor.db")) as bare:
        bare.executescript("PRAGMA journal_mode = DELETE; PRAGMA synchronous = EXTRA; CREATE TABLE answer (text)")
        for number in range(50):
            began = time.perf_counter()
            with bare:
                bare.execute("INSERT INTO answer VALUES (?)", (f"answer {number}",))
            times.append(1000 * (time.perf_counter() - began))
    return statistics.median(times)


if __name__ == "__main__":
    sys.exit(main())
