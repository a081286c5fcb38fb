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
    return json.dumps(value, separators=(",", ":"), sort_keys=True, ensure_ascii=True)


def rows_digest(batches: Iterable[Sequence[Sequence[Any]]]) -> str:
    """SHA-256 over rows; how they are cut into batches does not matter."""
    digest = hashlib.sha256()
    for rows in batches:
        if rows:
            text = json.dumps(rows, separators=(",", ":"), ensure_ascii=True, default=_hex)
            digest.update(text[1:-1].encode("ascii") + b",")
    return digest.hexdigest()


def _hex(value: bytes | memoryview) -> str:
    return value.hex()


def act_hash(previous: str, act: Sequence[Any], changes: Iterable[Sequence[Any]], summary: str | None) -> str:
    """SHA-256 of an act: the hash before it, its own row, its changes in order and its summary."""
    digest = hashlib.sha256(previous.encode("ascii"))
    digest.update(canonical(list(act)).encode("ascii"))
    for change in changes:
        digest.update(b"\n" + canonical(list(change)).encode("ascii"))
    digest.update(b"\n" + canonical(summary).encode("ascii"))
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
