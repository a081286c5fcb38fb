"""Lubricants put on the points of a unit, on their own or in a service, and the doubt of two that do not agree."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import day_given
from collection.acts.service_given import GivenLube, GivenService
from collection.acts.service_supplies import supply_and_lot
from collection.acts.texts import refuse_texts_of
from collection.acts.work import Work, open_work
from collection.analysis.lubricants import Put, mixing, parse_points
from collection.errors import Refused, fold
from collection.store.engine import fetch
from collection.views.lubricants import OnPoint, is_lubricant, lubricants_on
from collection.views.procedures import find_procedures
from collection.views.services import open_service_of
from collection.views.supplies import Supply, find_lot
from collection.views.units import find_unit

_NOT_CLEANED = "; the old one was not cleaned off first"


def lubricate(engine: Engine, tag: str, given: GivenLube, *, on: str = "", today: date, now: datetime) -> OnPoint:
    """Note that a lubricant was put on a point; it belongs to the open service, where that had begun by the day.

    Returns it as noted. Raises Refused as `note_lubed` does, and for a day that has not come.
    """
    refuse_texts_of(given)
    with open_work(engine, "unit lubricated", today=today, now=now) as work:
        unit, day = find_unit(work.conn, tag), day_given(on, today)
        service = open_service_of(work.conn, unit.id)
        during = service if service and service.opened_on <= day.isoformat() else None
        noted = note_lubed(work, unit.id, given, day, during.id if during else None)
        work.commit(f"{unit.tag}: {noted.put.supply} on {noted.point}")
    return noted


def note_lubed(work: Work, unit_id: int, given: GivenLube, on: date, service_id: int | None) -> OnPoint:
    """Note a lubricant on a point, doubtful where another is under it that was not cleaned off.

    A point that has had one before keeps the spelling of its name. Raises Refused for no point, and a supply that
    is unknown or no lubricant.
    """
    point = " ".join(given.point.split())
    if not point:
        raise Refused("Which point the lubricant was put on is not said.", 'Name it as "rails" or "lead screw".')
    supply, lot = _lubricant(work.conn, given.supply)
    put, day = _put(supply), on.isoformat()
    before = next((each for each in lubricants_on(work.conn, unit_id, day) if fold(each.point) == fold(point)), None)
    row_id = work.append(
        "lubrication",
        unit_id=unit_id,
        service_id=service_id,
        put_on=day,
        point=before.point if before else point,
        supply_id=supply.id,
        lot_id=find_lot(work.conn, supply, lot).id if lot else None,
        cleaned_first=int(given.cleaned_first),
        note=given.note or None,
    )
    point = before.point if before else point
    against = "" if given.cleaned_first else _against(point, before, put)
    if against:
        work.doubt("lubrication", row_id, point, put.supply, against + _NOT_CLEANED)
    return OnPoint(point, put, day, given.cleaned_first, "", True, work.act_id)


def doubt_mixed(work: Work, unit_id: int, service_id: int, before: Sequence[OnPoint], on: date) -> None:
    """Mark a service that used a lubricant over another by a procedure that does not take the old off."""
    known = {fold(each.point): each for each in before}
    for each in lubricants_on(work.conn, unit_id, on.isoformat()):
        if each.act_id != work.act_id or each.told or each.cleaned_first:
            continue
        against = _against(each.point, known.get(fold(each.point)), each.put)
        if against:
            work.doubt("service", service_id, each.point, each.put.supply, against + _NOT_CLEANED)


def mixing_cautions(conn: Connection, tag: str, given: GivenService, on: date) -> list[str]:
    """Return what stands against the lubricants that are told of a service, before anything is written."""
    points = [(lube.point, lube.supply) for lube in given.lubed if not lube.cleaned_first]
    points += [(point, use.supply) for use in given.used for point in _over_the_old(conn, given.did)]
    return _cautions(conn, find_unit(conn, tag).id, points, on) if points else []


def mixing_caution(conn: Connection, tag: str, given: GivenLube, on: str, today: date) -> list[str]:
    """Return what stands against one lubricant on a point, before it is written."""
    if given.cleaned_first:
        return []
    return _cautions(conn, find_unit(conn, tag).id, [(given.point, given.supply)], day_given(on, today))


def _cautions(conn: Connection, unit_id: int, points: Iterable[tuple[str, str]], on: date) -> list[str]:
    now = {fold(each.point): each for each in lubricants_on(conn, unit_id, on.isoformat())}
    said = []
    for point, text in points:
        supply, _ = supply_and_lot(conn, text)
        if is_lubricant(supply.kind):
            said.append(_against(point, now.get(fold(point)), _put(supply)))
    return [f"{each}. Clean the old one off first." for each in said if each]


def _over_the_old(conn: Connection, did: Sequence[str]) -> list[str]:
    """Return the points that procedures lubricate without taking the old off."""
    rows = fetch(conn, "SELECT id, lubricates FROM procedure WHERE void = 0 AND lubricates IS NOT NULL")
    named = {each.id for each in find_procedures(conn, did)} if rows else set()
    points = [point for row_id, text in rows if row_id in named for point in parse_points(text)]
    return [each.point for each in points if not each.cleaned_first]


def _against(point: str, before: OnPoint | None, put: Put) -> str:
    return mixing(point, before.put, before.since, put) if before else ""


def _lubricant(conn: Connection, text: str) -> tuple[Supply, str]:
    supply, lot = supply_and_lot(conn, text)
    if not is_lubricant(supply.kind):
        raise Refused(
            f'"{supply.name}" is of the kind {supply.kind}, which is no lubricant.',
            "Name a supply of the kind lubricant, grease or oil; see: spindlebook supply list",
        )
    return supply, lot


def _put(supply: Supply) -> Put:
    return Put(supply.id, supply.name, supply.ageing.thickener or "")
