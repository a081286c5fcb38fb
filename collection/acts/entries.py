"""Owner, location and standing of a unit: dated entries, added and never overwritten."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from collection.acts.leaving import refuse_leaving
from collection.acts.work import Work
from collection.analysis.readiness import READY
from collection.errors import Refused, fold, nearest, typed
from collection.schema.equipment import STANDINGS
from collection.views.condition_checks import failed_conditions
from collection.views.due import Facts, due_facts
from collection.views.exits import GONE
from collection.views.people import find_person
from collection.views.places import find_location
from collection.views.units import LOST, ON_LOAN, Unit


class Entered(NamedTuple):
    """An owner, a location or a standing as entered.

    before: what held on the day ("" for nothing). after: what holds from the day. now: what holds today, which
    differs from it where a later entry stands.
    """

    what: str
    before: str
    after: str
    now: str


class Standing(NamedTuple):
    """A standing as told, from a (partial) day on, for a reason or none."""

    word: str
    day: str
    reason: str = ""


def enter_owner(work: Work, unit_id: int, name: str, day: str, note: str = "") -> str:
    """Enter the owner from a day on; returns the name as the book spells it. Raises Refused if unknown."""
    person = find_person(work.conn, name)
    work.append("unit_entry", unit_id=unit_id, what="owner", from_date=day, person_id=person.id, note=note or None)
    return person.name


def enter_location(
    work: Work, unit_id: int, name: str, day: str, note: str = "", *, new: bool = False, by_id: int | None = None
) -> str:
    """Enter the location from a day on; returns its name. Raises Refused if it is unknown and not to be made.

    by_id: who moved it, whoever writes the act where nobody is told.
    """
    place, spelt = _made_location(work, name) if new else _known_location(work, name)
    work.append(
        "unit_entry",
        unit_id=unit_id,
        what="location",
        from_date=day,
        location_id=place,
        note=note or None,
        by_id=by_id if by_id is not None else work.who_id,
    )
    return spelt


def _known_location(work: Work, name: str) -> tuple[int, str]:
    try:
        return find_location(work.conn, name)
    except Refused as refusal:
        raise Refused(refusal.what, f"{refusal.hint} If it is new, add --new-location.") from None


def _made_location(work: Work, name: str) -> tuple[int, str]:
    try:
        return find_location(work.conn, name)
    except Refused:
        name = " ".join(name.split())
        return work.insert("location", name=name, name_folded=fold(name)), name


def enter_standing(work: Work, unit: Unit, told: Standing, *, by_id: int | None = None) -> str:
    """Enter the standing of a unit from a day on; returns the word.

    by_id: who uses it from then on, or changed it; whoever writes the act where nobody is told.
    Raises Refused for an unknown word; for "on loan", which a loan enters; for a unit that is on loan, unless
    it is called missing; for "gone" without a reason, and as `refuse_leaving`; and for a unit called ready or in
    use, without a reason, while a fault is open, a last reading is out of its limits, its last condition check
    failed, or what its last service had to measure again is missing.
    """
    word = standing_word(told.word)
    if word == ON_LOAN:
        raise Refused(
            f"{unit.tag} is on loan only through a loan.",
            f"Type: spindlebook loan out {typed(unit.tag)} --to PERSON --due DATE",
        )
    if unit.loan is not None and word not in LOST:
        raise Refused(
            f"{unit.tag} is on loan to {unit.loan.person} since {unit.loan.out_on}.",
            f"Type: spindlebook loan back {typed(unit.tag)}",
        )
    if word == GONE:
        if not told.reason:
            raise Refused(f"{unit.tag} is not called gone without a reason.", 'Add --reason "sold to the museum".')
        refuse_leaving(work.conn, unit.id, told.day, work.today)
    if word in READY and not told.reason:
        _check_ready(work, unit, word)
    work.append(
        "unit_entry",
        unit_id=unit.id,
        what="standing",
        from_date=told.day,
        standing=word,
        note=told.reason or None,
        by_id=by_id if by_id is not None else work.who_id,
    )
    return word


def standing_word(text: str) -> str:
    """Return the standing that a text spells. Raises Refused, naming the nearest or all."""
    if fold(text) in STANDINGS:
        return fold(text)
    near = nearest(text, STANDINGS)
    words = f"Nearest: {', '.join(near)}." if near else f"Type one of: {', '.join(STANDINGS)}."
    raise Refused(f'Standing "{text}" is not known.', words)


def _check_ready(work: Work, unit: Unit, word: str) -> None:
    facts = due_facts(work.conn, work.today, unit.id)
    failed = failed_conditions(work.conn, work.today, unit.id).values()
    against = [*_against(facts), *(f"its condition was graded fail on {day}" for day in failed)]
    if against:
        raise Refused(
            f"{unit.tag} is not called {word}: {'; '.join(against)}.",
            'Put it right in a service, or give a reason: --reason "REASON".',
        )


def _against(facts: Facts) -> Iterator[str]:
    """Yield what stands against calling a unit ready: what is out of limits, open, or not measured again."""
    about = facts.of_units[0]
    for finding in about.findings:
        what = f"{finding.measurement} {finding.point}".rstrip()
        yield f"{what} is {finding.value}" + (f", limit {finding.limit}" if finding.limit else "")
    yield from (f'fault "{symptom}" is open' for _, symptom in about.open_faults)
    last = max(about.last_done.values(), default="")
    for rule in facts.rules:
        if last and about.last_done.get(rule.id) == last:
            yield from (f"{name} was not measured after {rule.name}" for name in _unmeasured(facts, rule.retests, last))


def _unmeasured(facts: Facts, retests: tuple[str, ...], since: str) -> Iterator[str]:
    """Yield which measurements have no reading since a day, other than as found."""
    measured = {
        fold(one.measurement.name)
        for one in facts.judged
        if one.last.taken_on > since or (one.last.taken_on == since and one.last.stage != "as found")
    }
    yield from (name for name in retests if name not in measured)
