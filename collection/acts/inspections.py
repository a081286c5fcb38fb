"""What instruments and disks have in common: a check of their own, and being retired."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import TypeVar

from collection.acts.days import past_day
from collection.acts.texts import refuse_texts
from collection.acts.work import Work
from collection.analysis.checks import UNITS_COMPARED
from collection.errors import Refused, fold, typed
from collection.schema.measurement import GRADES
from collection.views.fitness import What
from collection.views.instrument_list import InstrumentRow
from collection.views.media import MediumRow
from collection.views.people import find_person

R = TypeVar("R", InstrumentRow, MediumRow)
MOST_MONTHS = 1200


def checked(work: Work, what: What, find: Callable[[], R], result: str, *, on: str, by: str, note: str) -> R:
    """Note a check of an instrument or a disk and end the act; returns what `find` finds then.

    Raises Refused for a result that is none, an unknown person, and what is retired.
    """
    row = find()
    refuse_retired(row.name, row.retired_on, row.retired_reason)
    refuse_texts(note=note)
    if fold(result) not in GRADES:
        raise Refused(f'"{result}" is no result of a check.', "Type pass, marginal or fail.")
    work.append(
        "inspection",
        instrument_id=row.id if what == "instrument" else None,
        medium_id=row.id if what == "medium" else None,
        checked_on=past_day(on, work.today, "--on"),
        result=fold(result),
        by_id=find_person(work.conn, by).id if by else work.who_id,
        note=note or None,
    )
    made = find()
    work.commit(f"{row.name}: checked, {fold(result)}")
    return made


def retire(work: Work, what: What, row_id: int, version: int, *, on: str, reason: str) -> str:
    """Write that a thing is used no more after a day; returns the day text. Raises Refused without a reason."""
    refuse_texts(reason=reason)
    if not reason.strip():
        raise Refused("A thing is retired for a reason.", 'Add --reason "dropped".')
    day = past_day(on, work.today, "--on")
    work.update(what, row_id, version, retired_on=day, retired_reason=reason)
    return day


def refuse_retired(name: str, retired_on: str, reason: str) -> None:
    """Refuse to go on with a thing that is retired already."""
    if retired_on:
        raise Refused(
            f'"{name}" is retired since {retired_on}: {reason}.', "Undo that act to use it again: spindlebook history"
        )


def refuse_few_compared(what: str, name: str, of: str, units: Mapping[str, int], since: date, command: str) -> None:
    """Refuse to let a reference go before enough units were read with it and with one that stays.

    what: "instrument" or "disk". of: what it is the reference for, "" for a disk. units: how many were read with both,
    by the one that stays. command: what to type for a reading with the other one, before its name.
    """
    if units and max(units.values()) >= UNITS_COMPARED:
        return
    role = f"reference for {of}" if of else "reference"
    instead = 'Or say why it goes all the same: --anyway "REASON".'
    if not units:
        raise Refused(f'"{name}" is the only {role}, and no other {what} is one.', instead)
    other = max(units, key=lambda each: (units[each], each))
    count = {0: "no unit was", 1: "1 unit was"}.get(units[other], f"{units[other]} units were")
    raise Refused(
        f'"{name}" is a {role}: {count} read with it and "{other}" on one day since {since.isoformat()};'
        f" {UNITS_COMPARED} are asked for.",
        f"Type for each of the two: {command} {typed(other)}. {instead}",
    )


def months_given(text: str, option: str = "--check-every") -> int | None:
    """Return a number of months, None for "" and "never". Raises Refused for another text than 1 to 1200."""
    if fold(text) in ("", "never"):
        return None
    return whole_given(text, option, MOST_MONTHS, "12")


def whole_given(text: str, option: str, most: int, example: str) -> int:
    """Return a whole number from 1 to `most`. Raises Refused for anything else."""
    if not text.isascii() or not text.isdecimal() or not 1 <= int(text[:9]) <= most:
        raise Refused(f'{option} "{text}" is no whole number from 1 to {most}.', f"Type it as {option} {example}.")
    return int(text)
