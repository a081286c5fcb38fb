"""Damage to units and losses: noted when found, told to owner and insurer, closed with what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.amounts import sum_given
from collection.acts.attachments import GivenPhoto, attach
from collection.acts.condition_checks import GivenCheck, write_check
from collection.acts.days import day_given
from collection.acts.edit import Edited, Given, change_row, make_row, needs_reason
from collection.acts.entries import Standing, enter_standing
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold, typed
from collection.quantity import parse_day
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.damage import Damage, find_damage
from collection.views.units import LOST, Unit, find_unit, refuse_gone, unit_on

_DAYS_AFTER = ("reported_on", "owner_told_on", "insurer_told_on", "settled_on", "closed_on")
_TOLD = (
    "kind", "what", "circumstances", "reported_on", "reported_by", "by", "estimate", "owner_told_on", "insurer_told_on",
    "policy", "claim", "actions",
)  # fmt: skip
_SUMS = {"estimate": "settled", "settled": "estimate"}
_WORDS = {"estimate": "estimate", "settled": "sum that was paid"}


@dataclass(frozen=True, slots=True)
class GivenDamage:
    """Damage or loss as told. kind: "damage" or "loss"; what: is broken or lost; "" for what is not told.

    missing: the unit itself is lost, so that it stands missing from that day. estimate: as "120" or "120 EUR".
    condition, grade: in what state the unit is now, for a condition check of that day.
    """

    kind: str
    what: str
    circumstances: str = ""
    reported_on: str = ""
    reported_by: str = ""
    by: str = ""
    estimate: str = ""
    owner_told_on: str = ""
    insurer_told_on: str = ""
    policy: str = ""
    claim: str = ""
    actions: str = ""
    missing: bool = False
    condition: str = ""
    grade: str = ""
    photos: tuple[GivenPhoto, ...] = ()


@dataclass(frozen=True, slots=True)
class Shown:
    """What shows a damage or loss that is in the book: the condition of the unit now, its grade, and pictures."""

    condition: str = ""
    grade: str = ""
    photos: tuple[GivenPhoto, ...] = ()


NOTHING_SHOWN = Shown()


def add_damage(engine: Engine, tag: str, given: GivenDamage, *, on: str = "", today: date, now: datetime) -> Damage:
    """Note damage to a unit, or its loss, found on a day.

    Raises Refused as `write_damage` does, and for a unit that was gone by that day.
    """
    with open_work(engine, "damage add", today=today, now=now) as work:
        day = day_given(on, today)
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, day)
        refuse_gone(unit)
        name = write_damage(work, unit, day, given, loan_item_id=_loan_item(work, unit, day))
        made = find_damage(work.conn, name)
        work.commit(f"{unit.tag}: {made.kind} {name} noted")
    return made


def write_damage(
    work: Work,
    unit: Unit,
    day: date,
    given: GivenDamage,
    *,
    loan_item_id: int | None = None,
    check_id: int | None = None,
) -> str:
    """Write one damage or loss found on a day, as a step of an act; returns its name, by which it is spoken of.

    unit: as of that day. loan_item_id: of the loan on which it happened; check_id: of the condition check that showed
    it. Raises Refused where nothing is said of what happened, for unknown people and policies, days before the day it
    was found, and a grade of no condition.
    """
    if not given.what.strip():
        raise Refused("What is damaged or lost is not said.", 'Type it as "bezel cracked at the left".')
    _refuse_bare_grade(given)
    told = {field: getattr(given, field) for field in _TOLD}
    name = _free_name(work)
    fixed = {"name": name, "name_folded": fold(name), "unit_id": unit.id, "found_on": day.isoformat()}
    if check_id is None and given.condition:
        check = GivenCheck("damage", given.condition, given.grade, given.by)
        check_id = write_check(work, unit, day, check, loan_item_id=loan_item_id)
    refers: dict[str, int | None] = {"loan_item_id": loan_item_id, "check_id": check_id}
    if not given.by.strip() and work.who_id is not None:
        refers["by_id"] = work.who_id
    row_id = make_row(work, "damage", told, "A damage or loss", **fixed, **refers)
    _refuse_days(find_damage(work.conn, name))
    if given.missing:
        _enter_missing(work, unit, day, name)
    for photo in given.photos:
        attach(work, unit.id, photo, day.isoformat(), damage_id=row_id)
    return name


def edit_damage(
    engine: Engine,
    name: str,
    given: Given,
    shown: Shown = NOTHING_SHOWN,
    *,
    reason: str = "",
    today: date,
    now: datetime,
) -> Edited:
    """Change what is said of a damage or loss, by the columns of FIELDS, and keep what shows it.

    An empty text takes a value away. Raises Refused for a closed one without a reason, for days before it was found,
    for a sum in another currency than the other sum, and for a condition where one is told.
    """
    with open_work(engine, "damage edit", today=today, now=now, reason=reason or None) as work:
        before = find_damage(work.conn, name)
        if before.closed_on and not reason.strip():
            raise needs_reason(f"{before.name} was closed on {before.closed_on}")
        edited = _change(work, before, given)
        after = find_damage(work.conn, before.name)
        _refuse_days(after)
        _refuse_currencies(work, before, after, given)
        _show(work, before, shown)
        if edited.changes or shown != NOTHING_SHOWN:
            work.commit(f"{before.tag}: changed what is said of {before.name}")
    return edited


def _show(work: Work, damage: Damage, shown: Shown) -> None:
    """Keep the condition of the unit today as the one that the damage left it in, and pictures of it."""
    _refuse_bare_grade(shown)
    if shown.condition:
        if damage.check_id is not None:
            raise Refused(
                f"{damage.name} has the condition of {damage.tag} already.",
                f"A later one: spindlebook condition add {typed(damage.tag)} --condition TEXT",
            )
        unit = unit_on(work.conn, damage.unit_id, work.today)
        check = GivenCheck("damage", shown.condition, shown.grade)
        check_id = write_check(work, unit, work.today, check, loan_item_id=damage.loan_item_id)
        work.update("damage", damage.id, check_id=check_id)
    for photo in shown.photos:
        attach(work, damage.unit_id, photo, "", damage_id=damage.id)


def close_damage(
    engine: Engine, name: str, outcome: str, *, on: str = "", settled: str = "", today: date, now: datetime
) -> Damage:
    """Close a damage or loss with what came of it; settled: what was paid for it, as "120" or "120 EUR".

    Raises Refused without a word on what came of it, for one that is closed, and for a day before it was found.
    """
    if not outcome.strip():
        raise Refused("What came of it is not said.", 'Add --outcome "mended, the borrower paid the bezel".')
    with open_work(engine, "damage close", today=today, now=now) as work:
        before, day = find_damage(work.conn, name), day_given(on, today)
        if before.closed_on:
            raise Refused(
                f"{before.name} was closed on {before.closed_on} already.",
                f"To put right what it says: spindlebook damage edit {typed(before.name)} --reason TEXT",
            )
        told = {"closed_on": day.isoformat(), "outcome": outcome}
        if settled:
            told |= {"settled": settled, "settled_on": before.settled_on or day.isoformat()}
        change_row(work, "damage", before.id, told, before.name)
        after = find_damage(work.conn, name)
        _refuse_days(after)
        _refuse_currencies(work, before, after, told)
        work.commit(f"{before.tag}: closed {before.name}")
    return after


def _loan_item(work: Work, unit: Unit, day: date) -> int | None:
    """Return the loan on which a unit was when the damage was found, or from which it came back that day.

    Of a borrowed unit it is the loan by which it is here, unless it was lent on.
    """
    sql = (
        "SELECT i.id FROM loan_item i JOIN loan l ON l.id = i.loan_id WHERE i.void = 0 AND l.void = 0"
        " AND i.unit_id = :unit AND l.out_on <= :day AND (i.back_on IS NULL OR i.back_on >= :day)"
        " ORDER BY CASE l.direction WHEN 'out' THEN 0 ELSE 1 END, l.out_on DESC, i.id DESC LIMIT 1"
    )
    found = fetch(work.conn, sql, unit=unit.id, day=day.isoformat())
    return found[0][0] if found else None


def _refuse_bare_grade(told: GivenDamage | Shown) -> None:
    if told.grade and not told.condition.strip():
        raise Refused(
            f'A grade ("{told.grade}") is of a condition, and none is told.', 'Add --condition "crack of 3 cm".'
        )


def _enter_missing(work: Work, unit: Unit, day: date, name: str) -> None:
    if unit.standing not in LOST:
        enter_standing(work, unit, Standing("missing", day.isoformat(), f"lost: {name}"))


def _refuse_days(found: Damage) -> None:
    """Refuse what was told, settled or closed before the damage was found; a partial day may be any of its days."""
    for column in _DAYS_AFTER:
        day = getattr(found, column)
        if day and parse_day(day).last < parse_day(found.found_on).first:
            raise Refused(
                f"{column.replace('_', ' ')} {day} is before it was found on {found.found_on}.",
                "Type days in the order in which they came.",
            )


def _change(work: Work, before: Damage, given: Given) -> Edited:
    """Change what is said; a sum that is taken away leaves the other its currency, which stands in one column."""
    alone = [
        told for told, other in _SUMS.items() if not given.get(told, "-").strip() and _stands(before, given, other)
    ]
    rest = {told: text for told, text in given.items() if told not in alone}
    edited = change_row(work, "damage", before.id, rest, before.name)
    for told in alone:
        was = getattr(before, told)
        if work.update("damage", before.id, **{f"{told}_minor": None}):
            edited = Edited(edited.name, (*edited.changes, (told, f"{was.text} {was.currency}", "")))
    return edited


def _stands(before: Damage, given: Given, told: str) -> bool:
    """Say whether there is a sum once what is given is written."""
    return bool(given[told].strip()) if told in given else getattr(before, told) is not None


def _refuse_currencies(work: Work, before: Damage, after: Damage, given: Given) -> None:
    """Refuse one sum that would turn the other into another currency: both stand in one column."""
    for told, other in _SUMS.items():
        is_ = getattr(after, told)
        if not is_ or not given.get(told) or not _stands(before, given, other):
            continue
        if other in given:
            was = sum_given("A sum", given[other], open_book(work.conn).settings.currency)
        else:
            was = getattr(before, other)
        if was.currency != is_.currency:
            raise Refused(
                f"{before.name}: the {_WORDS[other]} is in {was.currency},"
                f" the {_WORDS[told]} would be in {is_.currency}.",
                "Type both sums in one currency.",
            )


def _free_name(work: Work) -> str:
    """Return the name of a new damage or loss, "DL1" and so on: one that none ever had."""
    names = {row[0] for row in fetch(work.conn, "SELECT name FROM damage")}
    number = len(names) + 1
    while f"DL{number}" in names:
        number += 1
    return f"DL{number}"
