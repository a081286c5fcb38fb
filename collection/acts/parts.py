"""Parts outside a service: fitted, removed, and a wrong day put right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Engine

from collection.acts.days import past_day
from collection.acts.service_given import GivenPart
from collection.acts.service_parts import fit_part
from collection.acts.service_supplies import Occasion
from collection.acts.texts import refuse_texts, refuse_texts_of
from collection.acts.work import Work, open_work
from collection.analysis.donor_parts import IN_PLACE, part_word
from collection.errors import Refused, typed
from collection.quantity import Day, parse_day
from collection.store.engine import fetch
from collection.views.parts import BEFORE, NOW, PartRow, built_with, own_part_of, parts_of
from collection.views.services import open_service_of
from collection.views.units import Unit, find_unit, unit_on

_NO_REASON = "The history of a unit is changed for a reason."


@dataclass(frozen=True, slots=True)
class PartDone:
    """A part as an act left it; service: the open one it was booked in, doubts: what is doubtful about it."""

    tag: str
    part: PartRow
    doubts: tuple[str, ...] = ()


class _Days(NamedTuple):
    fitted_on: str
    removed_on: str


def fit(
    engine: Engine,
    tag: str,
    given: GivenPart,
    *,
    on: str = "",
    anyway: str = "",
    past_date_anyway: bool = False,
    note: str = "",
    today: date,
    now: datetime,
) -> PartDone:
    """Fit a part into a unit; it belongs to the unit's open service where that had begun by the day.

    Raises Refused as `fit_part` does, and for a day that has not come.
    """
    refuse_texts_of(given)
    refuse_texts(note=note, anyway=anyway)
    if sum(map(bool, (given.supply, given.donor, given.own_of))) != 1:
        raise Refused(
            f'Part "{given.part}": it comes from one of a supply, a donor or what lay loose.',
            "Type --from SUPPLY, --donor TAG or --own-of TAG.",
        )
    with open_work(engine, "part fit", today=today, now=now, reason=anyway or None) as work:
        day = parse_day(past_day(on, today, "--on"))
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, day.first)
        service = _service_of(work, unit, day)
        fit_part(work, Occasion(service, unit.id, day, (), past_date_anyway), unit, given, anyway, note)
        made = max((row for row in parts_of(work.conn, unit) if row.number), key=lambda row: row.id)
        doubts = _doubts(work)
        work.commit(f"{unit.tag}: {made.part} fitted")
    return PartDone(unit.tag, made, doubts)


def remove(
    engine: Engine,
    tag: str,
    part: str,
    *,
    reason: str,
    on: str = "",
    number: int | None = None,
    today: date,
    now: datetime,
) -> PartDone:
    """Remove a part from a unit: one that was fitted, or the one it was built with.

    Raises Refused without a reason, for a part that is not in the unit, several of that name without a number, and
    a day before it was fitted.
    """
    _refuse_no_reason(reason, 'Add --reason "worn".')
    refuse_texts(reason=reason, part=part)
    with open_work(engine, "part remove", today=today, now=now, reason=reason) as work:
        day = past_day(on, today, "--on")
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, today)
        fitted = [row for row in _named(work, unit, part, number) if row.state == NOW]
        if fitted:
            row = _only(unit, fitted)
            _refuse_order(unit.tag, row.part, _Days(row.fitted_on, day))
            row_id = row.id
            work.update("fitted_part", row_id, removed_on=day, note=_joined(row.note, reason))
        else:
            row_id = _remove_own(work, unit, part, day, reason)
        made = next(row for row in parts_of(work.conn, unit) if row.id == row_id)
        work.commit(f"{unit.tag}: {made.part} removed")
    return PartDone(unit.tag, made)


def edit(
    engine: Engine,
    tag: str,
    part: str,
    *,
    reason: str,
    number: int | None = None,
    fitted_on: str | None = None,
    removed_on: str | None = None,
    note: str | None = None,
    today: date,
    now: datetime,
) -> PartDone:
    """Put right when a part was fitted or removed, and what is noted of it; "" for removed_on: it is still fitted.

    What was removed on the wrong day to make room for the part follows it. Raises Refused without a reason, for
    days that are none, not come or not in order, and for a day that another part of the kind stands against.
    """
    _refuse_no_reason(reason, 'Add --reason "wrong day in the notes".')
    refuse_texts(reason=reason, note=note or "")
    with open_work(engine, "part edit", today=today, now=now, reason=reason) as work:
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, today)
        listed = _named(work, unit, part, number)
        if not listed:
            raise _no_such_part(unit, part)
        row = _only(unit, listed)
        days = _Days(
            row.fitted_on if fitted_on is None else past_day(fitted_on, today, "--fitted-on"),
            row.removed_on if removed_on is None else removed_on and past_day(removed_on, today, "--removed-on"),
        )
        _refuse_order(unit.tag, row.part, days)
        _refuse_overlap(work, unit, row, days)
        _follow(work, row, days.fitted_on)
        noted = row.note if note is None else note
        work.update(
            "fitted_part",
            row.id,
            fitted_on=days.fitted_on,
            removed_on=days.removed_on or None,
            note=noted or None,
        )
        made = next(each for each in parts_of(work.conn, unit) if each.id == row.id)
        work.commit(f"{unit.tag}: {made.part} put right")
    return PartDone(unit.tag, made)


def _service_of(work: Work, unit: Unit, day: Day) -> int | None:
    service = open_service_of(work.conn, unit.id)
    return service.id if service and service.opened_on <= day.text else None


def _remove_own(work: Work, unit: Unit, part: str, day: str, reason: str) -> int:
    """Note that the part a unit was built with is off; kept as fitted since the unit came, where that is known."""
    built = built_with(work.conn, unit)
    unknown = built and part_word(part) not in map(part_word, built)
    if unknown or own_part_of(work.conn, unit.id, part, day) != IN_PLACE:
        raise _no_such_part(unit, part)
    came = unit.acquired_on if unit.acquired_on and unit.acquired_on <= day else day
    return work.insert(
        "fitted_part",
        unit_id=unit.id,
        part=" ".join(part.split()),
        fitted_on=came,
        removed_on=day,
        part_unit_id=unit.id,
        note=reason,
    )


def _named(work: Work, unit: Unit, part: str, number: int | None) -> list[PartRow]:
    """Return the fittings of a part of a unit, or the one of a number."""
    rows = [row for row in parts_of(work.conn, unit) if row.number and part_word(row.part) == part_word(part)]
    return [row for row in rows if number in (None, row.number)]


def _only(unit: Unit, rows: list[PartRow]) -> PartRow:
    """Return the one row that is meant: the only one, or the only one that is fitted now."""
    meant = [row for row in rows if row.state == NOW] if len(rows) > 1 else rows
    if len(meant) != 1:
        days = "; ".join(f"{row.number} fitted {row.fitted_on}" for row in rows)
        raise Refused(f"{unit.tag} has several of that name: {days}.", "Name one with --number.")
    return meant[0]


def _no_such_part(unit: Unit, part: str) -> Refused:
    hint = f"See its parts: spindlebook part list {typed(unit.tag)}"
    return Refused(f'{unit.tag} has no part "{part}" to go by.', hint)


def _refuse_no_reason(reason: str, hint: str) -> None:
    if not reason.strip():
        raise Refused(_NO_REASON, hint)


def _refuse_order(tag: str, part: str, days: _Days) -> None:
    if days.removed_on and parse_day(days.removed_on).last < parse_day(days.fitted_on).first:
        raise Refused(
            f"{tag}: {part} fitted {days.fitted_on} and removed {days.removed_on}: it would go before it came.",
            "Type a day from then on.",
        )


def _refuse_overlap(work: Work, unit: Unit, row: PartRow, days: _Days) -> None:
    """Refuse days on which another part of the kind was in its place; what made room for this one follows it."""
    for other in _named(work, unit, row.part, None):
        if other.id == row.id or other.fitted_on == row.fitted_on:
            continue
        made_room = other.removed_on == row.fitted_on
        earlier = made_room and days.fitted_on < other.fitted_on
        later = other.fitted_on > row.fitted_on and (not days.removed_on or days.removed_on > other.fitted_on)
        before = other.state == BEFORE and not made_room and other.fitted_on <= days.fitted_on < other.removed_on
        if earlier or later or before:
            until = f" to {other.removed_on}" if other.removed_on else ""
            raise Refused(
                f"{unit.tag} had another {row.part} from {other.fitted_on}{until}.",
                f"Put that one right first: spindlebook part edit {typed(unit.tag)} --number {other.number}",
            )


def _follow(work: Work, row: PartRow, fitted_on: str) -> None:
    """Let what was removed for a part, here and on its donor, be removed on its new day."""
    if fitted_on == row.fitted_on:
        return
    sql = (
        "SELECT o.id, o.part FROM fitted_part o JOIN fitted_part f ON f.id = :row"
        " WHERE o.void = 0 AND o.id <> f.id AND o.removed_on = f.fitted_on AND o.unit_id IN (f.unit_id, f.donor_id)"
    )
    for other_id, name in fetch(work.conn, sql, row=row.id):
        if part_word(name) == part_word(row.part):
            work.update("fitted_part", other_id, removed_on=fitted_on)


def _joined(note: str, reason: str) -> str:
    return f"{note}; {reason}" if note else reason


def _doubts(work: Work) -> tuple[str, ...]:
    sql = "SELECT rule FROM doubt WHERE act_id = :act ORDER BY id"
    return tuple(row[0] for row in fetch(work.conn, sql, act=work.act_id))
