"""What an arrival is shown as: what came, what it measured, and what is due on it now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from collection.cli.card_more import one_arrival
from collection.cli.due import day_columns, item_rows, one_a_line
from collection.cli.show import Column, emit, say, say_pairs
from collection.errors import typed
from collection.quantity import show_day
from collection.store.book import open_book
from collection.views.arrivals import CAUTIONS, Arrival, arrival_checks, arrivals_of
from collection.views.reading_list import ReadingRow, readings_of
from collection.views.service_report import doubts_of, next_due
from collection.views.units import unit_on

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.acts.arrivals import Arrived
    from collection.analysis.schedule import DueItem
    from collection.cli.face import Face
    from collection.views.units import Unit


def show_arrival(face: Face, done: Arrived) -> None:
    """Print what came, what is due on it, and what to type next."""
    with face.view() as conn:
        form = open_book(conn).settings.date_form
        unit, arrival, readings, due = _read(conn, done, face.today)
        doubts = doubts_of(conn, done.act_id)
        checks = arrival_checks(conn)
    new = ", new to the book" if done.new else ""
    model = f"{unit.maker} {unit.model}".strip()
    say(f"{unit.tag}: {model}{new}, arrived {show_day(done.on, form)}", bold=True)
    photos = f"{done.photos} attached" if done.photos else ""
    say_pairs([*arrival_pairs(arrival, form), ("photos", photos), ("standing", unit.standing)])
    _section("readings", [_reading(row) for row in readings], _READING)
    rows = list(one_a_line(item_rows(due, face.today)))
    _section("due now", rows, [Column("procedure"), *day_columns(form), Column("why")])
    say("", *(f"Doubtful: {doubt}" for doubt in doubts))
    if arrival.sender and not arrival.receipt_on:
        say(f"A receipt for {arrival.sender}: spindlebook report receipt {arrival.entry_number} --to receipt.pdf")
    procedures = [row["procedure"] for row in item_rows(due, face.today)]
    did = " ".join(f"--did {typed(name)}" for name in procedures if name in checks)
    say(f"Once it is looked over: spindlebook service record {typed(unit.tag)} {did}".rstrip())


def arrival_pairs(arrival: Arrival, form: str) -> list[tuple[str, str]]:
    """Return what an arrival says, label by label; an empty text is not shown. form: how the book writes days."""
    return [
        ("entry number", arrival.entry_number),
        ("from", arrival.sender),
        ("for", arrival.reason),
        ("contents", arrival.contents),
        ("damage", arrival.damage),
        ("mains setting", arrival.mains_setting),
        ("fuse", arrival.fuse),
        ("cord", arrival.cord),
        ("note", arrival.note),
        ("goes back by", arrival.return_by and show_day(arrival.return_by, form)),
        ("receipt", arrival.receipt_on and show_day(arrival.receipt_on, form)),
    ]


def arrival_object(face: Face, done: Arrived) -> dict[str, Any]:
    """Return the same as one JSON object."""
    with face.view() as conn:
        unit, arrival, readings, due = _read(conn, done, face.today)
        doubts = doubts_of(conn, done.act_id)
    return {
        "tag": unit.tag,
        "new": done.new,
        **one_arrival(arrival),
        "standing": unit.standing,
        "photos": done.photos,
        "readings": [
            {"measurement": row.measurement, "point": row.point or None, "value": row.shown} for row in readings
        ],
        "due": item_rows(due, face.today),
        "cautions": CAUTIONS,
        "doubts": doubts,
    }


def _read(conn: Connection, done: Arrived, today: date) -> tuple[Unit, Arrival, list[ReadingRow], tuple[DueItem, ...]]:
    unit = unit_on(conn, done.unit_id, today)
    arrival = next(each for each in arrivals_of(conn, unit.id) if each.arrived_on == done.on)
    readings = [row for row in readings_of(conn, unit) if row.id in done.readings]
    return unit, arrival, readings, tuple(item for item in next_due(conn, unit.id, today) if item.due <= today)


def _section(title: str, rows: Sequence[dict[str, Any]], columns: Sequence[Column]) -> None:
    if rows:
        say("")
        say(title.capitalize(), bold=True)
        emit(rows, columns)


def _reading(row: ReadingRow) -> dict[str, Any]:
    return {"measurement": f"{row.measurement} {row.point}".rstrip(), "value": row.shown}


_READING = (Column("measurement"), Column("value", "as it came"))
