"""Sightings: a unit was seen at a place, or looked for in vain; one by one, or a whole shelf against the book."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Engine

from collection.acts.days import day_given
from collection.acts.entries import Standing, enter_location, enter_standing
from collection.acts.texts import refuse_texts, refuse_texts_of
from collection.acts.work import Work, open_work
from collection.analysis.shelf_check import NOT_HERE, UNKNOWN, Finding
from collection.errors import Refused, typed
from collection.schema.columns import LONG, SHORT
from collection.views.people import find_person
from collection.views.places import find_location
from collection.views.shelf_check import Shelf, shelf_in_book
from collection.views.units import Unit, find_unit, refuse_gone, unit_on

MOST_FOUND = 10_000
_COLUMNS = ("unit_id", "seen_on", "seen", "location_id", "shelf_check_id", "by_id", "note")


@dataclass(frozen=True, slots=True)
class GivenShelfCheck:
    """What was found at a location, as typed or scanned; empty text stands for what was not said.

    inside: whether what stands in places inside it counts as there. empty: that nothing was found because nothing is
    there. move: enter this location for what the book has elsewhere. call_missing: enter as missing what is not here.
    """

    location: str
    found: tuple[str, ...]
    inside: bool = True
    empty: bool = False
    move: bool = False
    call_missing: bool = False
    by: str = ""
    note: str = ""


class ShelfChecked(NamedTuple):
    """A shelf that was checked, by its name, and all findings; what was entered with them stands in their `do`."""

    shelf: str
    findings: list[Finding]


def check_shelf(
    engine: Engine, given: GivenShelfCheck, *, on: str = "", dry_run: bool = False, today: date, now: datetime
) -> ShelfChecked:
    """Hold a shelf against the book and write what was seen there and what was not; a dry run writes nothing.

    Raises Refused for an unknown location or person, where nothing was found and it is not said that nothing is there,
    and for more than 10,000 texts or overlong ones.
    """
    with open_work(engine, "shelf-check", today=today, now=now) as work:
        day = day_given(on, today)
        _refuse_found(given)
        by_id = find_person(work.conn, given.by).id if given.by else work.who_id
        shelf = shelf_in_book(work.conn, given.location, day, inside=given.inside)
        findings = shelf.findings(list(given.found))
        check_id = _write_check(work, shelf, findings, day, by_id, given)
        _write_sightings(work, shelf, findings, day, by_id, check_id)
        if given.move:
            findings = [_moved(work, shelf, row, day, by_id) if row.misplaced else row for row in findings]
        if given.call_missing:
            findings = [_missing(work, shelf, row, day) if row.finding == NOT_HERE else row for row in findings]
        if not dry_run:
            seen = sum(row.seen and row.finding != UNKNOWN for row in findings)
            differing = sum(row.differs for row in findings)
            work.commit(f"shelf-check of {shelf.name}: {seen} seen, {differing} unlike the book")
    return ShelfChecked(shelf.name, findings)


def _refuse_found(given: GivenShelfCheck) -> None:
    refuse_texts(note=given.note)
    if not given.found and not given.empty:
        raise Refused("No tag was typed or scanned.", "Type tags, one a line; if nothing is there, add --empty.")
    if given.found and given.empty:
        raise Refused(f"{given.found[0]} was found, yet --empty says that nothing is there.", "Leave --empty out.")
    if len(given.found) > MOST_FOUND:
        raise Refused(f"{len(given.found)} tags are more than {MOST_FOUND}.", "Check the shelf in parts.")
    for text in given.found:
        if len(text) > SHORT or not text.isprintable():
            raise Refused(f'"{text[:20]}..." is no tag: {len(text)} characters, or signs that none has.', "Scan again.")


def _write_check(
    work: Work, shelf: Shelf, findings: Sequence[Finding], day: date, by_id: int | None, given: GivenShelfCheck
) -> int:
    unknown = "\n".join(row.tag for row in findings if row.finding == UNKNOWN)
    if len(unknown) > LONG:
        raise Refused("Most of what was found is no tag of this book.", "See which book it is: spindlebook where")
    return work.append(
        "shelf_check",
        location_id=shelf.id,
        checked_on=day.isoformat(),
        inside=int(given.inside),
        by_id=by_id,
        unknown=unknown or None,
        note=given.note.strip() or None,
    )


def _write_sightings(
    work: Work, shelf: Shelf, findings: Sequence[Finding], day: date, by_id: int | None, check_id: int
) -> None:
    rows = [
        (shelf.unit(row.tag).id, day.isoformat(), int(row.seen), shelf.id, check_id, by_id, None)
        for row in findings
        if row.finding != UNKNOWN
    ]
    work.append_many("sighting", _COLUMNS, rows)


def _moved(work: Work, shelf: Shelf, row: Finding, day: date, by_id: int | None) -> Finding:
    enter_location(work, shelf.unit(row.tag).id, shelf.name, day.isoformat(), "found at a shelf-check", by_id=by_id)
    return row._replace(do=(*row.do[:-1], f"entered: at {shelf.name} from {day.isoformat()}"))


def _missing(work: Work, shelf: Shelf, row: Finding, day: date) -> Finding:
    enter_standing(work, shelf.unit(row.tag), Standing("missing", day.isoformat(), f"not found at {shelf.name}"))
    return row._replace(do=(f"entered: missing from {day.isoformat()}",))


@dataclass(frozen=True, slots=True)
class GivenSighting:
    """Where units were seen or looked for; empty text stands for what was not said.

    at: the location, that of the book where none is told. found: False for looked for in vain.
    """

    at: str = ""
    found: bool = True
    by: str = ""
    note: str = ""


def add_sightings(
    engine: Engine, tags: Sequence[str], given: GivenSighting, *, on: str = "", today: date, now: datetime
) -> tuple[list[str], list[str]]:
    """Note that units were seen, or looked for and not found; returns their tags, and what to do next.

    Raises Refused for an unknown unit, location or person, a unit named twice, and one that is gone.
    """
    refuse_texts_of(given)
    with open_work(engine, "sighting add", today=today, now=now) as work:
        day = day_given(on, today)
        units = [unit_on(work.conn, unit_id, day) for unit_id in each_once(work, tags)]
        by_id = find_person(work.conn, given.by).id if given.by else work.who_id
        at = find_location(work.conn, given.at) if given.at else None
        for unit in units:
            refuse_gone(unit)
        rows = [
            (
                unit.id,
                day.isoformat(),
                int(given.found),
                _place(work, unit, at),
                None,
                by_id,
                given.note.strip() or None,
            )
            for unit in units
        ]
        work.append_many("sighting", _COLUMNS, rows)
        says = "seen" if given.found else "looked for and not found"
        work.commit(f"{', '.join(unit.tag for unit in units)}: {says}")
    to_do = [line for unit in units for line in _to_do(unit, at[1] if at else "", found=given.found)]
    return [unit.tag for unit in units], to_do


def each_once(work: Work, tags: Sequence[str]) -> list[int]:
    """Return the units of these tags. Raises Refused for one named twice."""
    ids: list[int] = []
    for tag in tags:
        unit = find_unit(work.conn, tag)
        if unit.id in ids:
            raise Refused(f"{unit.tag} is named twice.", "Name each unit once.")
        ids.append(unit.id)
    return ids


def _place(work: Work, unit: Unit, at: tuple[int, str] | None) -> int | None:
    if at is not None:
        return at[0]
    return find_location(work.conn, unit.location)[0] if unit.location else None


def _to_do(unit: Unit, at: str, *, found: bool) -> list[str]:
    if not found:
        called = unit.standing == "missing"
        return [] if called else [f"If it is nowhere: spindlebook unit enter {typed(unit.tag)} --standing missing"]
    if unit.standing == "missing":
        return [f'It is here again: spindlebook unit enter {typed(unit.tag)} --standing "on the bench"']
    if at and at != unit.location:
        says = unit.location or "no location"
        return [f"The book says {says}: spindlebook unit move {typed(unit.tag)} --to {typed(at)}"]
    return []
