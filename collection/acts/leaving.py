"""What holds a unit here: nobody calls gone what others have, own, were promised or work on, or what was seen since."""

from __future__ import annotations

from datetime import date

from sqlalchemy.engine import Connection

from collection.errors import Refused, typed
from collection.store.engine import fetch
from collection.views.exits import GONE
from collection.views.inventory import last_seen
from collection.views.reservations import reserved
from collection.views.services import open_service_of
from collection.views.units import Unit, unit_on

_BORROWED = """
SELECT l.name, p.name FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0 AND l.direction = 'in' AND i.unit_id = :unit AND i.back_on IS NULL ORDER BY l.id LIMIT 1
"""


def refuse_leaving(conn: Connection, unit_id: int, day: str, today: date) -> None:
    """Refuse to call a unit gone from a (partial) day on.

    Raises Refused for one that is on loan, borrowed, reserved or in an open service today, and for one that stands
    otherwise, or of which a record shows that it was still here, after that day.
    """
    unit = unit_on(conn, unit_id, today)
    _refuse_tied(conn, unit, today)
    if unit.standing_from > day and unit.standing != GONE:
        raise Refused(
            f"{unit.tag} stands {unit.standing} since {unit.standing_from}, after {day}.",
            "Type a day on which it had left: --on DATE.",
        )
    last = last_seen(conn, today, unit_id).get(unit_id)
    if last is not None and last.day[: len(day)] > day:
        raise Refused(
            f"{unit.tag} was here on {last.day}, after {day}: {last.what}.",
            "Type a day on which it had left: --on DATE; or take back the act that is wrong:"
            f" spindlebook history {typed(unit.tag)}",
        )


def refuse_gone_since(conn: Connection, unit: Unit, until: date, so: str, hint: str, *, over: bool = False) -> None:
    """Refuse what would hold a unit here until a day by which it left; unit: as of the first day of it.

    over: it ended on that day, on which the unit may have left. so: what cannot be, as "so it is out on no loan now".
    hint: what to type, with {since} for the day it left.
    """
    stands = unit_on(conn, unit.id, until)
    since = stands.standing_from
    if stands.standing != GONE or (unit.standing, unit.standing_from) == (GONE, since):
        return
    if not over or until.isoformat()[: len(since)] > since:
        raise Refused(
            f"{unit.tag} is gone since {since}, {so}.",
            f"{hint.replace('{since}', since)};"
            f" if it never left, take back the act that says so: spindlebook history {typed(unit.tag)}",
        )


def _refuse_tied(conn: Connection, unit: Unit, today: date) -> None:
    """Refuse a unit that somebody else has, owns for the time, was promised, or works on."""
    if unit.loan is not None:
        back = f"spindlebook loan back {typed(unit.tag)}"
        raise Refused(
            f"{unit.tag} is on loan to {unit.loan.person} (loan {unit.loan.name}).",
            f'End the loan first: {back}; if it is lost: {back} --lost "WHAT BECAME OF IT"',
        )
    borrowed = fetch(conn, _BORROWED, unit=unit.id)
    if borrowed:
        raise Refused(
            f"{unit.tag} is borrowed from {borrowed[0][1]} (loan {borrowed[0][0]}): it goes back, and nowhere else.",
            f"Type: spindlebook loan give-back {typed(unit.tag)};"
            f' if it is lost: spindlebook damage add {typed(unit.tag)} "WHAT BECAME OF IT" --lost unit',
        )
    promised = reserved(conn, unit.id, today, date.max)
    if promised:
        raise Refused(
            f"{unit.tag} is reserved for {promised[0].person} from {promised[0].from_date}.",
            f"Type first: spindlebook loan unreserve {typed(unit.tag)}",
        )
    service = open_service_of(conn, unit.id)
    if service is not None:
        raise Refused(
            f"{unit.tag} has a service open since {service.opened_on}.",
            f"Close it first: spindlebook service close {typed(unit.tag)} --outcome away",
        )
