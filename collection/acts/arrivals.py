"""Arrivals: a unit comes, new or again, and is noted as it came, before anybody opens it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy.engine import Connection, Engine

from collection.acts.attachments import GivenPhoto, attach
from collection.acts.days import day_given, past_day
from collection.acts.entries import Standing, enter_location, enter_owner, enter_standing
from collection.acts.instruments import Instruments
from collection.acts.readings import BETWEEN, GivenReading, held_against, record_reading
from collection.acts.units import ARRIVED, change_unit, new_unit
from collection.acts.work import Work, open_work
from collection.analysis.mains import other_mains
from collection.errors import Refused, fold, typed
from collection.quantity import parse_day
from collection.schema.columns import LONG, SHORT
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.arrivals import arrivals_of
from collection.views.people import find_person
from collection.views.services import open_service_of
from collection.views.units import Unit, find_unit, unit_on

TEXTS = {
    "contents": LONG, "damage": LONG, "mains_setting": SHORT, "fuse": SHORT, "cord": SHORT, "note": LONG,
    "entry_number": SHORT, "reason": LONG,
}  # fmt: skip
# Days of an arrival that may be told later; the first may lie ahead.
DAYS = ("return_by", "receipt_on")
_OF_MODEL = ("model", "maker", "kind", "drive_type", "nominal_speed")


@dataclass(frozen=True, slots=True)
class GivenArrival:
    """An arrival as told. texts: those of TEXTS and DAYS; record: columns of the unit's own record, as for a new unit.

    Without an entry number it gets the next free one.
    """

    on: str = ""
    sender: str = ""
    texts: Mapping[str, str] = field(default_factory=dict)
    record: Mapping[str, str] = field(default_factory=dict)
    owner: str = ""
    location: str = ""
    new_location: bool = False
    readings: tuple[GivenReading, ...] = ()
    instruments: tuple[str, ...] = ()
    new_instrument: bool = False
    photos: tuple[GivenPhoto, ...] = ()


@dataclass(frozen=True, slots=True)
class Arrived:
    """What an arrival wrote: the unit, whether it is new to the book, the ids of its readings, and the act."""

    unit_id: int
    new: bool
    on: str
    readings: tuple[int, ...]
    photos: int
    act_id: int


def record_arrival(engine: Engine, tag: str, given: GivenArrival, *, today: date, now: datetime) -> Arrived:
    """Note that a unit came, as it came; it stands as arrived until a service looks it over.

    A tag that the book does not have becomes a new unit, for which a model must be told. Raises Refused for a model
    with a tag that is in the book, a unit on loan or in an open service, a second arrival on one day, days before it
    came, and an entry number of somebody else or of another day.
    """
    with open_work(engine, "arrival", today=today, now=now) as work:
        on = day_given(given.on, today)
        unit_id, new = _unit(work, tag, given)
        unit = unit_on(work.conn, unit_id, on)
        _refuse_at_work(work, unit, on)
        _place(work, unit, given, on)
        columns = _columns(work, given, on.isoformat())
        told = columns.get("entry_number") or _free_entry_number(work.conn)
        columns["entry_number"] = _shared(work.conn, told, on.isoformat(), columns.get("from_id"))
        arrival_id = work.insert("arrival", unit_id=unit_id, arrived_on=on.isoformat(), **columns)
        _doubt_mains(work, arrival_id, given.texts.get("mains_setting", ""))
        instruments = Instruments(given.instruments, given.new_instrument)
        held = held_against(work.conn, unit, instruments)
        readings = tuple(record_reading(work, held, each, BETWEEN, on).id for each in given.readings)
        for photo in given.photos:
            attach(work, unit_id, photo, on.isoformat())
        work.commit(f"{unit.tag}: arrived" + (f", a {unit.model} new to the book" if new else ""))
    return Arrived(unit_id, new, on.isoformat(), readings, len(given.photos), work.act_id)


def correct_arrival(
    engine: Engine, tag: str, given: GivenArrival, *, reason: str, today: date, now: datetime
) -> tuple[tuple[str, str, str], ...]:
    """Put right what the last arrival of a unit says; "" takes a text away. Returns name, before and after.

    Raises Refused without a reason, for a unit that has no arrival, and for what an arrival does not keep itself.
    """
    if not reason.strip():
        raise Refused("An arrival is put right for a reason.", 'Add --reason "the list was in the box".')
    if given.record or given.owner or given.location or given.readings or given.photos or given.on:
        raise Refused(
            "--correct changes only --from, --contents, --damage, --mains, --fuse, --cord, --note, --entry, --for,"
            " --return-by and --receipt.",
            "The rest has its own commands: unit edit, unit enter, reading add, photo add; the day by undo.",
        )
    with open_work(engine, "arrival", today=today, now=now, reason=reason) as work:
        unit = find_unit(work.conn, tag)
        listed = arrivals_of(work.conn, unit.id)
        if not listed:
            raise Refused(f"{unit.tag} has no arrival in the book.", f"Note one: spindlebook arrival {typed(unit.tag)}")
        before = listed[0]
        columns = _columns(work, given, before.arrived_on)
        entry = columns.get("entry_number", before.entry_number)
        if entry and {"entry_number", "from_id"} & set(columns):
            sender = columns.get("from_id", before.from_id)
            columns["entry_number"] = _shared(work.conn, entry, before.arrived_on, sender, but_for=before.id)
        if work.update("arrival", before.id, **columns):
            _doubt_mains(work, before.id, given.texts.get("mains_setting", ""))
            work.commit(f"{unit.tag}: put its arrival of {before.arrived_on} right")
        after = arrivals_of(work.conn, unit.id)[0]
    return tuple(
        (name, str(was), str(is_))
        for name, was, is_ in zip(before._fields, before, after, strict=True)
        if was != is_ and name != "from_id"
    )


def _unit(work: Work, tag: str, given: GivenArrival) -> tuple[int, bool]:
    """Return the unit of the tag, made if it is new, its record as told; and whether it is new."""
    try:
        unit = find_unit(work.conn, tag)
    except Refused as refusal:
        if not given.record.get("model"):
            raise Refused(refusal.what, f'{refusal.hint} If it is new, add --model "NAME".') from None
        return new_unit(work, tag, given.record)[0], True
    told = next((name for name in _OF_MODEL if given.record.get(name)), "")
    if told:
        is_ = unit_on(work.conn, unit.id, work.today)
        raise Refused(
            f"{unit.tag} is in the book already, a {is_.maker} {is_.model}.".replace("  ", " "),
            f"If it comes again, leave --{told.replace('_', '-')} away; if another came, choose another tag.",
        )
    if given.record:
        change_unit(work, unit, given.record)
    return unit.id, False


def _refuse_at_work(work: Work, unit: Unit, on: date) -> None:
    service = open_service_of(work.conn, unit.id)
    if service is not None:
        raise Refused(
            f"{unit.tag} has a service open since {service.opened_on}, so it is here.",
            f"Close it first: spindlebook service close {typed(unit.tag)} --outcome away",
        )
    if any(each.arrived_on == on.isoformat() for each in arrivals_of(work.conn, unit.id)):
        raise Refused(
            f"{unit.tag} has arrived on {on.isoformat()} already.",
            f"To put right what it says: spindlebook arrival {typed(unit.tag)} --correct --reason TEXT",
        )


def _place(work: Work, unit: Unit, given: GivenArrival, on: date) -> None:
    """Enter owner, location and standing from the day on, as far as they differ."""
    day = on.isoformat()
    if given.owner and fold(given.owner) != fold(unit.owner):
        enter_owner(work, unit.id, given.owner, day)
    if given.location and fold(given.location) != fold(unit.location):
        enter_location(work, unit.id, given.location, day, new=given.new_location)
    if (unit.standing, unit.standing_from) != (ARRIVED, day):
        enter_standing(work, unit, Standing(ARRIVED, day))


def _columns(work: Work, given: GivenArrival, on: str) -> dict[str, Any]:
    """Return the columns of the arrival that were told. Raises Refused for a text that is too long, and a wrong day."""
    columns: dict[str, Any] = {name: _text(name, text) or None for name, text in given.texts.items() if name in TEXTS}
    for name in DAYS:
        if name in given.texts:
            columns[name] = _day(name, given.texts[name].strip(), on, work.today)
    if given.sender:
        columns["from_id"] = find_person(work.conn, given.sender).id
    return columns


def _day(name: str, text: str, on: str, today: date) -> str | None:
    """Return the (partial) day that a text spells, None for none. Raises Refused for a day before the unit came."""
    if not text:
        return None
    option = "--return-by" if name == "return_by" else "--receipt"
    day = parse_day(text) if name == "return_by" else parse_day(past_day(text, today, option))
    if day.last < parse_day(on).first:
        raise Refused(f"{option} {day.text} is before the day it came, {on}.", "Type a later day.")
    return day.text


def _free_entry_number(conn: Connection) -> str:
    """Return the next entry number, "E1" and so on: one that no arrival ever had."""
    taken = {fold(row[0]) for row in fetch(conn, "SELECT entry_number FROM arrival WHERE entry_number IS NOT NULL")}
    number = len(taken) + 1
    while f"e{number}" in taken:
        number += 1
    return f"E{number}"


def _shared(conn: Connection, entry: str, on: str, sender: int | None, *, but_for: int = 0) -> str:
    """Return an entry number as the book spells it. Raises Refused for that of another day or another person.

    but_for: the arrival whose number it becomes, where that is in the book.
    """
    sql = (
        "SELECT a.entry_number, u.tag, a.arrived_on, a.from_id FROM arrival a JOIN unit u ON u.id = a.unit_id"
        " WHERE a.void = 0 AND a.entry_number IS NOT NULL AND a.id <> :but_for ORDER BY a.id"
    )
    for number, tag, day, from_id in fetch(conn, sql, but_for=but_for):
        if fold(number) != fold(entry):
            continue
        if (day, from_id) != (on, sender):
            raise Refused(
                f"Entry number {number} is that of {tag}, which came on {day}.",
                "Only what one person brings on one day shares a number."
                f" Type the next free one: --entry {_free_entry_number(conn)}",
            )
        return str(number)
    return entry


def _text(name: str, text: str) -> str:
    text = text.strip()
    if len(text) > TEXTS[name]:
        label = name.replace("_", " ")
        raise Refused(f"{label} has {len(text)} characters; at most {TEXTS[name]} are kept.", "Shorten it.")
    return text


def _doubt_mains(work: Work, arrival_id: int, setting: str) -> None:
    """Mark a setting for other mains than the book's: plugging the unit in would hurt it, and may hurt someone."""
    says = other_mains(setting, open_book(work.conn).settings.mains_volts)
    if says:
        work.doubt("arrival", arrival_id, "mains_setting", setting, f"{says}: leave it unplugged")
