"""The list of drift as it was printed last, and renewed by a few new readings where nothing else has changed."""

from __future__ import annotations

from bisect import bisect
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from collection.cli.face import Face

if TYPE_CHECKING:
    from datetime import date

    from sqlalchemy.engine import Connection

    from collection.store.cache import Cache
    from collection.views.drift_rows import DriftRow

_RESTS_ON = ("equipment", "measurement", "maintenance", "people", "journal")
_NAMES_IT = 3  # the last parts of what rows are sorted by name the series
Encode = Callable[["DriftRow"], str]


class _Asked(NamedTuple):
    """What a list was asked for; by, measurement: None where it was not said. encode: makes a row one line."""

    face: Face
    connection: Connection
    by: date | None
    measurement: str | None
    risk: float
    encode: Encode

    def name(self) -> str:
        """Return the name it is kept under: the list of one measurement leaves that of all in its place."""
        if self.measurement is None:
            return "drift"
        from hashlib import sha256

        from collection.errors import fold

        return f"drift-{sha256(fold(self.measurement).encode()).hexdigest()[:16]}"

    def state(self, rests_on: Sequence[str]) -> str:
        """Return what it rests on: these subjects of the book, the day, and what was asked."""
        from collection.store.cache import state_key

        return state_key(self.connection, rests_on, self.face.today, self.by or "", self.measurement or "", self.risk)


def drift_lines(
    face: Face, connection: Connection, by: date | None, measurement: str | None, risk: float, encode: Encode
) -> list[str]:
    """Return the rows of the fleet's drift, worst first, each as one line of JSON; kept from run to run."""
    cache = face.cache(connection)
    asked = _Asked(face, connection, by, measurement, risk, encode)
    key = asked.state(_RESTS_ON)
    text = cache.load_text(asked.name(), key)
    if text is not None:
        return text.split("\n") if text else []
    same = asked.state(())
    lines = _renewed(cache, same, key, asked)
    if lines is None:
        lines = _anew(cache, same, key, asked)
    cache.save_text(asked.name(), key, "\n".join(lines))
    return lines


def _anew(cache: Cache, same: str, key: str, asked: _Asked) -> list[str]:
    """Fit the whole fleet; keep of a large one what a new reading does not change."""
    from collection.views.drift import worst_first
    from collection.views.drift_keep import drift_parts, plain

    parts = drift_parts(asked.connection, asked.face.today, asked.by, asked.measurement, asked.risk)
    if parts.settled:
        order = [worst_first(row) for row in parts.rows]
        settled = [plain(one) for one in parts.settled]
        cache.save(asked.name(), same, {"text": key, "act": parts.act, "order": order, "settled": settled})
    return [asked.encode(row) for row in parts.rows]


def _renewed(cache: Cache, same: str, key: str, asked: _Asked) -> list[str] | None:
    """Return the kept rows with those renewed that were read since; None where more has changed or none are kept."""
    kept: dict[str, Any] | None = cache.load(asked.name(), same)
    text = None if kept is None else cache.load_text(asked.name(), kept["text"])
    if kept is None or text is None:
        return None
    from collection.views.drift import worst_first
    from collection.views.drift_keep import from_plain, renewed

    settled = [from_plain(one) for one in kept["settled"]]
    told = renewed(asked.connection, asked.face.today, asked.by, asked.risk, settled, kept["act"])
    if told is None:
        return None
    rows, act = told
    lines, order = text.split("\n"), [_key(each) for each in kept["order"]]
    for row in rows:
        place = worst_first(row)
        _take_out(lines, order, place[-_NAMES_IT:])
        at = bisect(order, place)
        order.insert(at, place)
        lines.insert(at, asked.encode(row))
    cache.save(asked.name(), same, kept | {"text": key, "act": act, "order": order})
    return lines


def _take_out(lines: list[str], order: list[Any], series: Any) -> None:
    for at, place in enumerate(order):
        if place[-_NAMES_IT:] == series:
            del lines[at], order[at]
            return


def _key(kept: Sequence[Any]) -> Any:
    """Return what rows are sorted by, as it was before it was kept."""
    left_out, chance, recheck, tag, measurement, point = kept
    return left_out, chance, recheck, tuple(map(tuple, tag)), measurement, point
