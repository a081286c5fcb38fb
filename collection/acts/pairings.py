"""Pairing a drive with the supply unit that feeds it, and ending that."""

from __future__ import annotations

from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Engine

from collection.acts.days import past_day
from collection.acts.work import open_work
from collection.errors import Refused, typed
from collection.views.pairings import Pairing, pairing_list
from collection.views.units import find_unit, unit_on


class Paired(NamedTuple):
    """A new pairing, and the one of the drive that ended with it."""

    made: Pairing
    ended: Pairing | None


def add_pairing(engine: Engine, drive: str, supply_unit: str, *, on: str = "", today: date, now: datetime) -> Paired:
    """Pair a drive with a supply unit from a (partial) day on; the pairing it had until then ends on that day.

    Raises Refused for unknown tags, one that is no supply unit, a pairing that stands already, and a day before the
    drive's last pairing began.
    """
    with open_work(engine, "pairing add", today=today, now=now) as work:
        fed, feeding, day = find_unit(work.conn, drive), find_unit(work.conn, supply_unit), past_day(on, today, "--on")
        kind = unit_on(work.conn, feeding.id, today).kind
        if fed.id == feeding.id:
            raise Refused(f"{fed.tag} does not feed itself.", "Name the drive, then its supply unit.")
        if "supply" not in kind:
            raise Refused(f"{feeding.tag} is a {kind}: it feeds no drive.", "Name the drive, then its supply unit.")
        before = next(
            (row for row in pairing_list(work.conn, fed.id) if row.drive_id == fed.id and not row.to_date), None
        )
        if before is not None and before.supply_unit_id == feeding.id:
            raise Refused(
                f"{fed.tag} is fed by {feeding.tag} since {before.from_date} already.",
                f"Type: spindlebook pairing list {typed(fed.tag)}",
            )
        if before is not None:
            _refuse_before(before, day)
            work.update("pairing", before.id, None, to_date=day)
        made = work.insert("pairing", drive_id=fed.id, supply_unit_id=feeding.id, from_date=day)
        rows = {row.id: row for row in pairing_list(work.conn, fed.id)}
        work.commit(f"{fed.tag} is fed by {feeding.tag} from {day}")
    return Paired(rows[made], None if before is None else rows[before.id])


def end_pairing(engine: Engine, drive: str, *, on: str = "", today: date, now: datetime) -> Pairing:
    """End the pairing of a drive on a (partial) day. Raises Refused where there is none, or a day before it began."""
    with open_work(engine, "pairing end", today=today, now=now) as work:
        fed, day = find_unit(work.conn, drive), past_day(on, today, "--on")
        rows = [row for row in pairing_list(work.conn, fed.id) if row.drive_id == fed.id and not row.to_date]
        if not rows:
            raise Refused(f"{fed.tag} is fed by no supply unit.", f"Type: spindlebook pairing add {typed(fed.tag)} TAG")
        _refuse_before(rows[-1], day)
        work.update("pairing", rows[-1].id, None, to_date=day)
        work.commit(f"{fed.tag} is no longer fed by {rows[-1].supply_unit} from {day}")
    return rows[-1]._replace(to_date=day)


def _refuse_before(row: Pairing, day: str) -> None:
    if day < row.from_date:
        raise Refused(
            f"{row.drive} is fed by {row.supply_unit} since {row.from_date}, after {day}.",
            "Type a later day: --on DATE.",
        )
