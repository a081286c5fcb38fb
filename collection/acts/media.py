"""What happens to a disk that units are read, cleaned or tried with: it comes, is used, changes, is checked, goes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import partial
from typing import Any, NamedTuple

from sqlalchemy.engine import Engine

from collection.acts.days import past_day
from collection.acts.inspections import (
    checked,
    months_given,
    refuse_few_compared,
    refuse_retired,
    retire,
    whole_given,
)
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.analysis.checks import compared, first_day_compared
from collection.errors import Refused, fold, nearest, typed
from collection.quantity import parse_day
from collection.schema.measurement import MEDIUM_ROLES
from collection.views.fitness import fitness_of
from collection.views.handover import disk_readings
from collection.views.media import MediumRow, find_medium, media_rows
from collection.views.services import open_service_of
from collection.views.units import find_unit

REFERENCE = "reference"
_MOST_USES = 1_000_000
_MOST_TIMES = 1_000


class Changed(NamedTuple):
    """A thing after an act, and what differs: column, before, after. act is None where nothing was to do."""

    name: str
    changes: tuple[tuple[str, Any, Any], ...]


def add_medium(engine: Engine, name: str, given: Mapping[str, str], *, today: date, now: datetime) -> MediumRow:
    """Add a disk. given: role, size, unit, condition, from_date, most_uses, check_every, note; "" for unsaid.

    Raises Refused for a name that is taken, a role that is none and what does not fit.
    """
    bare = " ".join(name.split())
    refuse_texts(name=bare)
    with open_work(engine, "medium add", today=today, now=now) as work:
        if not bare:
            raise Refused("A disk has a name, and none is given.", 'Type it as "alignment disk 2".')
        taken = [row.name for row in media_rows(work.conn, today) if fold(row.name) == fold(bare)]
        if taken:
            raise Refused(f'There is a disk "{taken[0]}" already.', "Give this one another name.")
        columns = _columns(work, {**given, "role": given.get("role") or "?"})
        columns.setdefault("from_date", today.isoformat())
        work.insert("medium", name=bare, name_folded=fold(bare), **columns)
        made = find_medium(work.conn, bare, today)
        work.commit(f'added the disk "{bare}"')
    return made


def edit_medium(
    engine: Engine, name: str, given: Mapping[str, str], *, reason: str = "", today: date, now: datetime
) -> Changed:
    """Change what is written of a disk: the keys of `add_medium` that are told; "" takes a value away.

    Its name stays, since readings know it by that. Raises Refused as `add_medium` does.
    """
    with open_work(engine, "medium edit", today=today, now=now, reason=reason or None) as work:
        row = find_medium(work.conn, name, today)
        columns = _columns(work, given)
        if "from_date" in columns:
            _refuse_order(row.name, columns["from_date"], row.retired_on)
        before = {"unit_id": find_unit(work.conn, row.unit).id if row.unit else None}
        changes = tuple(
            (column, before.get(column, getattr(row, column, None)) or None, value)
            for column, value in columns.items()
            if (before.get(column, getattr(row, column, None)) or None) != value
        )
        if changes:
            work.update("medium", row.id, row.version, **columns)
            work.commit(f"{row.name}: changed {', '.join(column for column, _, _ in changes)}")
    return Changed(row.name, changes)


def use_medium(
    engine: Engine,
    name: str,
    times: str = "1",
    *,
    on: str = "",
    tag: str = "",
    note: str = "",
    today: date,
    now: datetime,
) -> MediumRow:
    """Note that a disk was used, on a unit or not; it joins the service that is open on that unit.

    A use beyond the most it is good for is booked and marked. Raises Refused for a disk that was retired before.
    """
    refuse_texts(note=note)
    with open_work(engine, "medium use", today=today, now=now) as work:
        row = find_medium(work.conn, name, today)
        day = past_day(on, today, "--on")
        count = whole_given(times, "TIMES", _MOST_TIMES, "3")
        fitness_of(work.conn, "medium", name, parse_day(day).first).refuse_gone("Use another: spindlebook medium list")
        unit = find_unit(work.conn, tag) if tag else None
        service = open_service_of(work.conn, unit.id) if unit else None
        work.append(
            "medium_use",
            medium_id=row.id,
            used_on=day,
            times=count,
            unit_id=unit.id if unit else None,
            service_id=service.id if service and service.opened_on <= day else None,
            note=note or None,
        )
        made = find_medium(work.conn, name, today)
        if made.most_uses is not None and made.uses > made.most_uses:
            work.doubt("medium", row.id, "uses", made.uses, f"used more often than it is good for ({made.most_uses})")
        work.commit(f"{row.name}: used{'' if count == 1 else f' {count} times'}{f' on {unit.tag}' if unit else ''}")
    return made


def check_medium(
    engine: Engine,
    name: str,
    result: str,
    *,
    on: str = "",
    by: str = "",
    note: str = "",
    today: date,
    now: datetime,
) -> MediumRow:
    """Note a check of a disk: pass, marginal or fail. Readings with one that failed are marked from then on."""
    with open_work(engine, "medium check", today=today, now=now) as work:
        find = partial(find_medium, work.conn, name, today)
        return checked(work, "medium", find, result, on=on, by=by, note=note)


def retire_medium(
    engine: Engine, name: str, *, reason: str, on: str = "", anyway: str = "", today: date, now: datetime
) -> MediumRow:
    """Retire a disk: it is refused for readings after that day.

    A reference goes only when three units were read with it and with another one on one day within twelve months, so
    that old readings can be held against new ones; `anyway` gives the reason to go against that.
    """
    refuse_texts(anyway=anyway)
    with open_work(engine, "medium retire", today=today, now=now, reason=reason or None) as work:
        row = find_medium(work.conn, name, today)
        refuse_retired(row.name, row.retired_on, row.retired_reason)
        if row.role == REFERENCE and row.last_used and not anyway:
            _refuse_few(work, row, today)
        day = retire(work, "medium", row.id, row.version, on=on, reason=reason)
        _refuse_order(row.name, row.from_date, day)
        if anyway:
            work.doubt("medium", row.id, "retired_on", day, f"retired without three units read with both: {anyway}")
        made = find_medium(work.conn, name, today)
        work.commit(f"{row.name}: retired")
    return made


def _refuse_order(name: str, from_date: str, retired_on: str) -> None:
    """Refuse a disk that would be retired before it was first used."""
    if from_date and retired_on and parse_day(retired_on).last < parse_day(from_date).first:
        raise Refused(
            f'"{name}" would be retired on {retired_on}, before it was there ({from_date}).',
            f"Type the days in their order; the first one: spindlebook medium edit {typed(name)} --from DATE",
        )


def _refuse_few(work: Work, row: MediumRow, today: date) -> None:
    since = first_day_compared(today)
    others = {
        fold(other.name): other.name
        for other in media_rows(work.conn, today)
        if other.role == REFERENCE and not other.retired_on and other.id != row.id
    }
    counted = compared(disk_readings(work.conn, since), fold(row.name), others)
    units = {others[name]: number for name, number in counted.items()}
    refuse_few_compared("disk", row.name, "", units, since, "spindlebook round --of MEASUREMENT --disk")


def _columns(work: Work, given: Mapping[str, str]) -> dict[str, Any]:
    """Return the columns of what is told; a key that is not there stays as it is."""
    columns: dict[str, Any] = {}
    for name in ("size", "condition", "note"):
        if name in given:
            refuse_texts(**{name: given[name]})
            columns[name] = given[name].strip() or None
    if "role" in given:
        columns["role"] = _role(given["role"])
    if "unit" in given:
        columns["unit_id"] = find_unit(work.conn, given["unit"]).id if given["unit"] else None
    if given.get("from_date"):
        columns["from_date"] = past_day(given["from_date"], work.today, "--from")
    if "most_uses" in given:
        most = given["most_uses"]
        columns["most_uses"] = whole_given(most, "--most-uses", _MOST_USES, "30") if most else None
    if "check_every" in given:
        columns["check_every_months"] = months_given(given["check_every"])
    return columns


def _role(text: str) -> str:
    if fold(text) in MEDIUM_ROLES:
        return fold(text)
    words = ", ".join(MEDIUM_ROLES)
    if text in ("", "?"):
        raise Refused("What the disk is for is not said.", f"Add --role with one of: {words}.")
    near = nearest(text, MEDIUM_ROLES)
    raise Refused(f'Role "{text}" is none.', f"Nearest: {', '.join(near)}." if near else f"Type one of: {words}.")
