"""Changing what the records of models, locations, people, supplies, suppliers, lots and services say."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.edit import Edited, Given, edit_record, make_row, needs_reason
from collection.acts.work import Work, open_work
from collection.analysis.shelf_life import parse_made
from collection.errors import Refused
from collection.quantity import parse_day, unit_of
from collection.store.engine import fetch
from collection.views.models import find_model
from collection.views.orders import find_supplier
from collection.views.people import find_person
from collection.views.places import find_location
from collection.views.services import find_service
from collection.views.supplies import find_lot, find_supply
from collection.views.units import find_unit

_SUPPLY_UNITS = ("mass", "volume", "length", "pieces")
_USED_SQL = """
SELECT 1 FROM movement WHERE supply_id = :id UNION SELECT 1 FROM amount WHERE supply_id = :id AND void = 0
UNION SELECT 1 FROM offer WHERE supply_id = :id AND void = 0 UNION SELECT 1 FROM order_line WHERE supply_id = :id
UNION SELECT 1 FROM wanted_part WHERE supply_id = :id AND void = 0
"""


def edit_model(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change what a model says. Raises Refused as `edit_record` does, and for an unknown or ambiguous name."""

    def find(conn: Connection) -> tuple[int, str]:
        model = find_model(conn, name)
        return model.id, model.full_name

    return edit_record(engine, "model edit", "model", find, given, reason=reason, today=today, now=now)


def add_location(engine: Engine, name: str, given: Given, *, today: date, now: datetime) -> str:
    """Add a location, maybe inside another; returns its name. Raises Refused for a name that is given."""
    with open_work(engine, "location add", today=today, now=now) as work:
        spelt = " ".join(name.split())
        make_row(work, "location", {"location": name, **given}, "A location")
        work.commit(f"added the location {spelt}")
    return spelt


def edit_location(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change what a location says. Raises Refused as `edit_record` does, and for one that would be inside itself."""

    def find(conn: Connection) -> tuple[int, str]:
        return find_location(conn, name)

    return edit_record(
        engine, "location edit", "location", find, given, reason=reason, check=_no_circle, today=today, now=now
    )


def edit_person(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change what is known of a person. Raises Refused as `edit_record` does, and for an e-mail address without "@"."""
    email = given.get("email", "").strip()
    if email and "@" not in email[1:-1]:
        raise Refused(f'"{email}" is no e-mail address: it has no "@" inside.', "Type it as ada@example.org.")

    def find(conn: Connection) -> tuple[int, str]:
        person = find_person(conn, name)
        return person.id, person.name

    return edit_record(engine, "person edit", "person", find, given, reason=reason, today=today, now=now)


def edit_supply(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change what a supply says. Its unit and step stay once it is used. Raises Refused as `edit_record` does."""

    def find(conn: Connection) -> tuple[int, str]:
        supply = find_supply(conn, name)
        return supply.id, supply.name

    return edit_record(
        engine, "supply edit", "supply", find, given, reason=reason, check=_unused_unit, today=today, now=now
    )


def edit_supplier(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change what a supplier says. Raises Refused as `edit_record` does."""

    def find(conn: Connection) -> tuple[int, str]:
        supplier = find_supplier(conn, name)
        return supplier.id, supplier.name

    return edit_record(engine, "order edit-supplier", "supplier", find, given, reason=reason, today=today, now=now)


def edit_lot(
    engine: Engine, supply: str, lot: str, given: Given, *, reason: str = "", today: date, now: datetime
) -> Edited:
    """Change what a lot says. Raises Refused as `edit_record` does, and for one made after it was received."""

    def find(conn: Connection) -> tuple[int, str]:
        kept = find_supply(conn, supply)
        found = find_lot(conn, kept, lot)
        return found.id, found.name

    return edit_record(
        engine, "supply edit-lot", "lot", find, given, reason=reason, check=_made_first, today=today, now=now
    )


def edit_service(
    engine: Engine, tag: str, given: Given, *, service: str = "", reason: str = "", today: date, now: datetime
) -> Edited:
    """Change what a service of a unit says: reason, findings, minutes, by; service: its name or day, else the newest.

    Raises Refused as `edit_record` does, and for a closed service without a reason.
    """

    def find(conn: Connection) -> tuple[int, str]:
        found = find_service(conn, find_unit(conn, tag), service)
        if found.closed_on and not reason.strip():
            raise needs_reason(f'Service "{found.name}" is closed since {found.closed_on}')
        return found.id, found.name

    return edit_record(engine, "service edit", "service", find, given, reason=reason, today=today, now=now)


def _no_circle(work: Work, row_id: int, edited: Edited) -> None:
    """Refuse a location inside one that is inside it."""
    inside: dict[int, int | None] = dict(fetch(work.conn, "SELECT id, inside_id FROM location WHERE void = 0"))
    at = inside.get(row_id)
    while at is not None:
        if at == row_id:
            raise Refused(f'"{edited.name}" would be inside itself.', "Name a location that is not inside it.")
        at = inside.get(at)


def _unused_unit(work: Work, row_id: int, edited: Edited) -> None:
    """Refuse another unit or step of a supply in which amounts are kept, and a unit no supply is measured in."""
    changed = {name: after for name, _, after in edited.changes if name in ("measured_in", "smallest_step")}
    if not changed:
        return
    if fetch(work.conn, _USED_SQL, id=row_id):
        raise Refused(
            f'"{edited.name}" is used: its unit and its smallest step stay as they are.',
            "Add another supply, and discard what is left of this one.",
        )
    unit = unit_of(changed["measured_in"]) if "measured_in" in changed else None
    if unit is not None and unit.dimension not in _SUPPLY_UNITS:
        raise Refused(f"A supply is not measured in {unit.symbol}.", "Type --measured-in piece, g, ml or m.")


def _made_first(work: Work, row_id: int, _edited: Edited) -> None:
    """Refuse a lot that was made after it was received."""
    made, received = fetch(work.conn, "SELECT made, received_on FROM lot WHERE id = :id", id=row_id)[0]
    if made and _first_day(made) > parse_day(received).last:
        raise Refused(f"Made {made}, but received {received}: nothing arrives before it is made.", "Check --made.")


def _first_day(made: str) -> date:
    """Return the first day of the quarter, month or day of making."""
    last = parse_made(made)
    return date(last.year, last.month - 2, 1) if "/" in made else parse_day(made).first
