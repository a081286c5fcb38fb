"""Which lubricant is on which point of a unit now: the latest told, or used for a procedure that lubricates."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.lubricants import KINDS, Put, parse_points
from collection.analysis.mechanisms import Span
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.mechanisms import listed, spans_of


class OnPoint(NamedTuple):
    """A lubricant on a point: since which (partial) day, whether the old was cleaned off first, in which service.

    told: somebody said so; else it follows from a use for a procedure. act_id: the act that says so.
    """

    point: str
    put: Put
    since: str
    cleaned_first: bool
    service: str
    told: bool
    act_id: int


_KINDS = ", ".join(f"'{kind}'" for kind in KINDS)
_TOLD_SQL = f"""
SELECT l.id, l.unit_id, l.put_on, l.point, l.cleaned_first, s.id, s.name, s.thickener, v.name, l.act_id
FROM lubrication l JOIN supply s ON s.id = l.supply_id LEFT JOIN service v ON v.id = l.service_id AND v.void = 0
WHERE l.{{of}} IN ({{ids}}) AND {counts("l")} ORDER BY l.id
"""
# Of a use that names no lubricating procedure it is the only one of its service.
_USED_SQL = f"""
SELECT m.id, coalesce(m.unit_id, v.unit_id), m.occurred_on, coalesce(p.lubricates, (
    SELECT CASE WHEN count(DISTINCT q.lubricates) = 1 THEN min(q.lubricates) END
    FROM task t JOIN procedure q ON q.id = t.procedure_id
    WHERE t.service_id = m.service_id AND q.lubricates IS NOT NULL AND {counts("t")})) AS points,
  s.id, s.name, s.thickener, v.name, m.act_id
FROM movement m JOIN supply s ON s.id = m.supply_id LEFT JOIN procedure p ON p.id = m.procedure_id
LEFT JOIN service v ON v.id = m.service_id AND v.void = 0
WHERE m.kind = 'use' AND m.supply_id IN (SELECT k.id FROM supply k WHERE lower(k.kind) IN ({_KINDS}))
  AND (m.unit_id IN ({{ids}}) OR v.unit_id IN ({{ids}})) AND {counts("m")}
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")})
ORDER BY m.id
"""


def is_lubricant(kind: str) -> bool:
    """Say whether a supply of this kind goes on points."""
    return fold(kind) in KINDS


def lubricants_on(conn: Connection, unit_id: int, day: str) -> list[OnPoint]:
    """Return the lubricant on each point of a unit on a day, by the names of the points."""
    latest: dict[str, OnPoint] = {}
    for on in ever_on(conn, unit_id, day):
        known = latest.get(fold(on.point))
        latest[fold(on.point)] = on._replace(point=known.point) if known else on
    return [latest[key] for key in sorted(latest)]


def ever_on(conn: Connection, unit_id: int, day: str) -> list[OnPoint]:
    """Return what was ever put on the points of a unit until a day, the last last.

    What is lubricated on a drive sits on its mechanism, and goes along when that is swapped. Of the same day what
    was told goes after what follows from a use.
    """
    spans = spans_of(conn, unit_id)
    ids = listed({span.unit_id for span in spans})
    rows = [*_told(conn, "unit_id", ids), *_used(conn, ids)]
    return [
        on
        for _, row_unit, on in sorted(rows, key=lambda row: (row[2].since, row[2].told, row[0]))
        if on.since <= day and _holds(spans, row_unit, on.since)
    ]


def put_on_in(conn: Connection, service_id: int) -> list[OnPoint]:
    """Return what was told in a service of lubricants on points."""
    return [on for _, _, on in _told(conn, "service_id", str(int(service_id)))]


def _holds(spans: tuple[Span, ...], unit_id: int, day: str) -> bool:
    return any(span.unit_id == unit_id and span.holds(day, "") for span in spans)


def _told(conn: Connection, of: str, ids: str) -> Iterator[tuple[int, int, OnPoint]]:
    for row in fetch(conn, _TOLD_SQL.format(of=of, ids=ids)):
        row_id, unit_id, day, point, cleaned, supply_id, supply, thickener, service, act_id = row
        put = Put(supply_id, supply, thickener or "")
        yield row_id, unit_id, OnPoint(point, put, day, bool(cleaned), service or "", True, act_id)


def _used(conn: Connection, ids: str) -> Iterator[tuple[int, int, OnPoint]]:
    for row in fetch(conn, _USED_SQL.format(ids=ids)):
        row_id, unit_id, day, points, supply_id, supply, thickener, service, act_id = row
        put = Put(supply_id, supply, thickener or "")
        for point, cleaned in parse_points(points or ""):
            yield row_id, unit_id, OnPoint(point, put, day, cleaned, service or "", False, act_id)
