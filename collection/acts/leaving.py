"""What holds a unit here: nobody calls gone what others have, own, were promised or work on, or what was seen since."""

from __future__ import annotations

from datetime import date

from sqlalchemy.engine import Connection

from collection.errors import Refused, typed
from collection.views.exits import GONE
from collection.views.holds import first_by_unit, holds
from collection.views.inventory import last_seen
from collection.views.units import Unit, unit_on


def refuse_leaving(conn: Connection, unit_id: int, day: str, today: date) -> None:
    """Refuse to call a unit gone from a (partial) day on.

    Raises Refused for one that is on loan, borrowed, reserved or in an open service today, and for one that stands
    otherwise, or of which a record shows that it was still here, after that day.
    """
    unit = unit_on(conn, unit_id, today)
    for hold in first_by_unit(holds(conn, today, unit_id)).values():
        mend = hold.mend(unit.tag)
        raise Refused(f"{unit.tag} {hold.says}.", f"{mend[:1].upper()}{mend[1:]}")
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
