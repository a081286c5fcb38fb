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


def _lines(changes: Iterable[Sequence[Any]]) -> str:
    """The canonical text of each change after a line break.

    They are put into text at once, with a word between two of them. A change holds no list, and in a text every quote
    has a backslash before it, so what stands between two of them is found nowhere else.
    """
    between: list[Any] = []
    for change in changes:
        between += ("|", change)
    return "\n" + _CANONICAL(between)[5:-1].replace('],"|",[', "]\n[") if between else ""


def act_hash(previous: str, act: Sequence[Any], changes: Iterable[Sequence[Any]], summary: str | None) -> str:
    """SHA-256 of an act: the hash before it, its own row, its changes in order and its summary."""
    digest = hashlib.sha256(previous.encode("ascii"))
    digest.update(canonical(act).encode("ascii"))
    digest.update(f"{_lines(changes)}\n{canonical(summary)}".encode("ascii"))
    return digest.hexdigest()


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
