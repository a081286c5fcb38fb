"""How acts are sealed: canonical text of journal rows, and the digest of rows that an act appended.

The text is JSON with ASCII escapes, which does not change with the Python version, the database or a later nullable
column: what was digested is listed in the change itself.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

START = "0" * 64


def canonical(value: Any) -> str:
    """One text for one value."""
    return _CANONICAL(value)


def rows_digest(batches: Iterable[Sequence[Sequence[Any]]]) -> str:
    """SHA-256 over rows; how they are cut into batches does not matter."""
    digest = hashlib.sha256()
    for rows in batches:
        if rows:
            text = _ROWS(rows)
            digest.update(text[1:-1].encode("ascii") + b",")
    return digest.hexdigest()


def _hex(value: bytes | memoryview) -> str:
    return value.hex()


# Made once: json.dumps would make one for every value.
_CANONICAL = json.JSONEncoder(separators=(",", ":"), sort_keys=True, ensure_ascii=True).encode
_ROWS = json.JSONEncoder(separators=(",", ":"), ensure_ascii=True, default=_hex).encode


def row_texts(rows: Iterable[Sequence[Any]]) -> list[str]:
    """The canonical text of each row without its brackets; all of them are put into text at once, for that is quicker.

    A word stands between two rows. A row holds no list, and in a text every quote has a backslash before it, so what
    stands between two of them is found nowhere else.
    """
    between: list[Any] = []
    for row in rows:
        between += (row, "|")
    return _ROWS(between)[len("[[") : -len('],"|"]')].split('],"|",[') if between else []


def texts_digest(batches: Iterable[Sequence[str]]) -> str:
    """The same as ``rows_digest`` of rows whose texts are there already."""
    digest = hashlib.sha256()
    for texts in batches:
        if texts:
            digest.update(f"[{'],['.join(texts)}],".encode("ascii"))
    return digest.hexdigest()


def act_hash(previous: str, act: Sequence[Any], changes: Iterable[Sequence[Any]], summary: str | None) -> str:
    """SHA-256 of an act: the hash before it, its own row, its changes in order and its summary."""
    return texts_hash(previous, row_texts([act, *changes]), canonical(summary))


def texts_hash(previous: str, texts: Sequence[str], summary: str) -> str:
    """The same of the texts of the act and its changes, and the canonical text of the summary."""
    lines = "]\n[".join(texts)
    return hashlib.sha256(f"{previous}[{lines}]\n{summary}".encode("ascii")).hexdigest()


def personal_hash(salt: str, field: str, value: Any) -> str | None:
    """What the journal keeps of a personal value: it can be checked, but not read or guessed without the salt."""
    if value is None:
        return None
    return "sha256:" + hashlib.sha256(f"{salt}\n{field}\n{value}".encode()).hexdigest()


def dead_acts(rows: Iterable[tuple[int, int | None]]) -> dict[int, int]:
    """From all (act, undoes) pairs: each act that counts for nothing, with the act that took it back."""
    dead: dict[int, int] = {}
    for act_id, undoes in sorted(rows, reverse=True):
        if undoes is not None and act_id not in dead:
            dead[undoes] = act_id
    return dead


def root_act(undoes: Mapping[int, int], act_id: int) -> int:
    """The first-hand act whose rows an undo, or the undo of an undo, takes out or brings back; else the act itself."""
    while act_id in undoes:
        act_id = undoes[act_id]
    return act_id
