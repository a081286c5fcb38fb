"""The answers of a round that is not in the book yet, kept line by line as they are typed.

One small file per round: what it is of in the first line, then one line per answer, made durable before the next
question. Whatever ends the program, at most the answer being typed is lost. A later line of a unit takes the place of
an earlier one; a last line that was torn off is left out.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from pathlib import Path


class KeptRound:
    """The file of one round of one book. head: what it is of, which decides the file's name."""

    def __init__(self, folder: Path, head: dict[str, str]) -> None:
        self.head = head
        name = hashlib.sha256(json.dumps(head, sort_keys=True).encode()).hexdigest()[:16]
        self.file = folder / f"{name}.jsonl"

    def answers(self) -> dict[str, str]:
        """Return the answer of each tag, "" for a unit that was passed over; nothing where no file is."""
        return dict(_read(self.file)[1])

    def keep(self, tag: str, answer: str) -> None:
        """Add one answer and make it durable."""
        self.file.parent.mkdir(parents=True, exist_ok=True)
        new = not self.file.exists()
        with self.file.open("a", encoding="utf-8") as stream:
            if new:
                stream.write(json.dumps(self.head, ensure_ascii=False) + "\n")
            stream.write("\n" * self._torn() + json.dumps([tag, answer], ensure_ascii=False) + "\n")
            stream.flush()
            os.fsync(stream.fileno())

    def drop(self) -> None:
        """Take the file away: its answers are in the book, or nobody wants them."""
        with suppress(FileNotFoundError):
            self.file.unlink()

    def _torn(self) -> bool:
        """Say whether the last line was not written whole; the next one must not be glued to it."""
        with self.file.open("rb") as stream:
            if stream.seek(0, os.SEEK_END) == 0:
                return False
            stream.seek(-1, os.SEEK_END)
            return stream.read() != b"\n"


def unfinished(folder: Path, book: str) -> list[KeptRound]:
    """Return the rounds of a book that were begun and not put into it, the oldest file first."""
    files = sorted(folder.glob("*.jsonl"), key=lambda file: (file.stat().st_mtime, file.name))
    heads = [_read(file)[0] for file in files]
    return [KeptRound(folder, head) for head in heads if head.get("book") == book]


def _read(file: Path) -> tuple[dict[str, str], list[tuple[str, str]]]:
    """Return head and answers of a file; lines that are not whole are left out."""
    head: dict[str, str] = {}
    answers: list[tuple[str, str]] = []
    text = file.read_text(encoding="utf-8", errors="replace") if file.exists() else ""
    for line in text.split("\n"):
        try:
            made = json.loads(line)
        except (ValueError, RecursionError):
            continue
        if isinstance(made, dict):
            head = made
        elif isinstance(made, list) and len(made) == 2:
            answers.append((str(made[0]), str(made[1])))
    return head, answers
