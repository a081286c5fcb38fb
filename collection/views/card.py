"""The card of a unit: all that the book can say about it on a day."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.guide import read_place
from collection.analysis.schedule import DueItem, ProcedureRule, UnitFacts
from collection.quantity import Money, show_amount
from collection.store.engine import fetch
from collection.views import card_sql as sql
from collection.views.adjustments import Screw, adjustments_of, screws
from collection.views.arrivals import Arrival, arrivals_of
from collection.views.attachments import attachments_of
from collection.views.condition_checks import ConditionCheck, condition_checks
from collection.views.damage import Damage, damage_list
from collection.views.due import Facts, Rechecks, due_facts, work_ahead
from collection.views.exits import Exit, exits_of
from collection.views.findings import Judged
from collection.views.fitted_rubber import ages_of_parts
from collection.views.inventory import Evidence, last_seen
from collection.views.loans import LoanRow, loans_of
from collection.views.lubricants import OnPoint, ever_on, is_lubricant, lubricants_on
from collection.views.mechanisms import Sits, mechanism_in
from collection.views.parts import left_on
from collection.views.reservations import Reservation, reservation_list
from collection.views.safety import SafetyRow, safety_row
from collection.views.units import Unit, find_unit
from collection.views.wanted import WantedPart, wanted_list


class Worth(NamedTuple):
    """What a unit is worth: the sum, its basis, the (partial) day and by whom it was valued."""

    amount: Money
    basis: str
    valued_on: str
    by: str


class Part(NamedTuple):
    """A part that is fitted now, from a lot of a supply or from a donor unit; age: what is to be said of its rubber."""

    part: str
    fitted_on: str
    supply: str
    lot: str
    donor: str
    age: str = ""


class Lubricant(NamedTuple):
    """The last use of a lubricant on the unit; amount as "0.3 g"."""

    supply: str
    used_on: str
    amount: str


class Fault(NamedTuple):
    """A fault, open while `closed_on` is empty."""

    noticed_on: str
    symptom: str
    cause: str
    cure: str
    closed_on: str
    no_fault_found: bool


class Service(NamedTuple):
    """A service with the names of the procedures done, open while `closed_on` is empty.

    next: what a guided one asks next, "" for others.
    """

    service: str
    opened_on: str
    closed_on: str
    outcome: str
    minutes: int | None
    findings: str
    procedures: tuple[str, ...]
    next: str = ""


class Mark(NamedTuple):
    """A doubt about something recorded of the unit: kind of record, its day, field, value, rule."""

    record: str
    day: str
    field: str
    value: str
    rule: str


@dataclass(frozen=True, slots=True)
class Card:
    """The card: one field per question, lists empty where there is nothing.

    details: what the unit's own record says, by column name. paired_with: the supply unit of a drive, or the
    drives of a supply unit. due: all that lies ahead too, earliest first; nothing
    for a unit that is missing, gone or a donor. never_recorded: procedures that
    apply, of which the book knows no day. arrivals: the last first. screws: where each that was turned stands.
    photos: how many pictures and papers are attached. mechanism: which is in it, where one was swapped. left: the
    parts left on a donor. points: the lubricant now on each point; lubricants: what was used of them, and when last;
    placed: those that ever went on a point. damage: open or not, the last first. exits: the
    times it left for good, the last first. seen: when somebody had it before them last. checked: its last condition
    check. safety: its last electrical safety check, or that one is wanting. borrowed: on which loan in it is here.
    """

    unit: Unit
    aliases: tuple[str, ...]
    details: dict[str, str]
    worth: Worth | None
    paired_with: tuple[str, ...]
    parts: tuple[Part, ...]
    lubricants: tuple[Lubricant, ...]
    readings: tuple[Judged, ...]
    wanted: tuple[WantedPart, ...]
    faults: tuple[Fault, ...]
    services: tuple[Service, ...]
    due: tuple[DueItem, ...]
    doubts: tuple[Mark, ...]
    never_recorded: tuple[str, ...]
    arrivals: tuple[Arrival, ...]
    screws: tuple[Screw, ...]
    photos: int
    mechanism: Sits | None
    left: tuple[str, ...]
    points: tuple[OnPoint, ...]
    placed: frozenset[str]
    damage: tuple[Damage, ...]
    exits: tuple[Exit, ...]
    seen: Evidence | None
    checked: ConditionCheck | None
    safety: SafetyRow | None
    borrowed: LoanRow | None
    reserved: tuple[Reservation, ...]


def card_of(conn: Connection, tag: str, today: date, rechecks: Rechecks | None = None) -> Card:
    """Return the card of the unit with this tag or alias. Raises Refused, naming the nearest tags.

    rechecks: by unit, of `views.recheck`; without them none is due.
    """
    unit_id = find_unit(conn, tag).id
    facts = due_facts(conn, today, unit_id, rechecks)
    about, rules = facts.of_units[0], _applying(facts)
    day = today.isoformat()
    return Card(
        unit=facts.units[unit_id],
        aliases=tuple(row[0] for row in fetch(conn, sql.ALIASES, unit=unit_id)),
        details=_details(conn, unit_id),
        worth=_worth(conn, unit_id, day),
        paired_with=tuple(row[0] for row in fetch(conn, sql.PAIRED, unit=unit_id, day=day)),
        parts=_parts(conn, unit_id, today),
        lubricants=_lubricants(conn, unit_id),
        readings=tuple(sorted(facts.judged, key=lambda one: (one.measurement.name, one.last.point))),
        wanted=tuple(row for row in wanted_list(conn, unit_id) if row.open),
        faults=tuple(Fault._make([*_texts(row[:5]), bool(row[5])]) for row in fetch(conn, sql.FAULTS, unit=unit_id)),
        services=_services(conn, unit_id),
        due=work_ahead(facts),
        doubts=tuple(Mark(*_texts(row)) for row in fetch(conn, sql.DOUBTS, unit=unit_id)),
        never_recorded=tuple(rule.name for rule in rules if not _known(rule, about)),
        arrivals=tuple(arrivals_of(conn, unit_id)),
        screws=tuple(screws(adjustments_of(conn, unit_id))),
        photos=len(attachments_of(conn, unit_id)),
        mechanism=mechanism_in(conn, unit_id),
        left=tuple(left_on(conn, facts.units[unit_id])),
        points=tuple(lubricants_on(conn, unit_id, day)),
        placed=frozenset(on.put.supply for on in ever_on(conn, unit_id, day)),
        damage=tuple(damage_list(conn, unit_id)),
        exits=tuple(exits_of(conn, unit_id)),
        seen=last_seen(conn, today, unit_id).get(unit_id),
        checked=next(reversed(condition_checks(conn, unit_id)), None),
        safety=safety_row(conn, facts.units[unit_id], today),
        borrowed=next((row for row in loans_of(conn, unit_id, "in") if not row.back_on), None),
        reserved=tuple(row for row in reservation_list(conn, today) if row.unit_id == unit_id),
    )


def _texts(row: Sequence[Any]) -> list[Any]:
    return ["" if value is None else str(value) for value in row]


def _applying(facts: Facts) -> list[ProcedureRule]:
    unit = facts.of_units[0]
    return [rule for rule in facts.rules if rule.applies(unit.kind, unit.drive_type, unit.maker, unit.model)]


def _known(rule: ProcedureRule, about: UnitFacts) -> bool:
    return rule.id in about.last_done or rule.id in about.baseline


def _details(conn: Connection, unit_id: int) -> dict[str, str]:
    row = fetch(conn, sql.DETAILS, unit=unit_id)[0]
    *values, price, currency = row
    details = dict(zip(sql.DETAIL_NAMES, _texts(values), strict=True))
    details["price"] = "" if price is None else f"{Money(price, currency).text} {currency}"
    return details


def _worth(conn: Connection, unit_id: int, day: str) -> Worth | None:
    """Return the latest valuation, else the replacement value of the model."""
    valued = fetch(conn, sql.WORTH, unit=unit_id, day=day)
    if valued:
        return Worth(Money(*valued[0][:2]), *_texts(valued[0][2:]))
    replacing = fetch(conn, sql.REPLACEMENT, unit=unit_id)
    return Worth(Money(*replacing[0]), "replacement value of the model", "", "") if replacing else None


def _parts(conn: Connection, unit_id: int, today: date) -> tuple[Part, ...]:
    ages = ages_of_parts(conn, unit_id, today)
    rows = fetch(conn, sql.PARTS, unit=unit_id, day=today.isoformat())
    return tuple(Part._make([*_texts(row[1:]), ages.get(row[0], (None, ""))[1]]) for row in rows)


def _lubricants(conn: Connection, unit_id: int) -> tuple[Lubricant, ...]:
    last: dict[str, Lubricant] = {}
    for supply, kind, used_on, steps, step, measured_in in fetch(conn, sql.USES, unit=unit_id):
        if is_lubricant(kind):
            last[supply] = Lubricant(supply, used_on, show_amount(-steps, Decimal(step), measured_in))
    return tuple(last.values())


def _services(conn: Connection, unit_id: int) -> tuple[Service, ...]:
    done: dict[int, list[str]] = defaultdict(list)
    for service_id, procedure in fetch(conn, sql.TASKS, unit=unit_id):
        done[service_id].append(procedure)
    return tuple(
        Service._make([*_texts(row[1:5]), row[5], row[6] or "", tuple(done[row[0]]), _next(row[7])])
        for row in fetch(conn, sql.SERVICES, unit=unit_id)
    )


def _next(guide: str | None) -> str:
    return read_place(guide).block if guide else ""
