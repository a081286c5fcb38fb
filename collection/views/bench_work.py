"""What there is to do at the bench: the due work of every unit at hand with its minutes, and who must wait."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.engine import Connection

from collection.analysis.bench_drawer import Coming, Drawer, Shelf, Usual, usual_amount
from collection.analysis.bench_minutes import ASSUMED_MINUTES, Minutes, minutes_told
from collection.analysis.bench_plan import UnitWork, Work
from collection.analysis.needs import names_of_model
from collection.analysis.procedures import ProcedureRule
from collection.analysis.reasons import PART_CAME, UnitFacts
from collection.analysis.schedule import LEFT_OUT, DueItem, Plan, due_items, plan_of
from collection.quantity import parse_day, show_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.drawer import drawer
from collection.views.due import Rechecks, due_facts
from collection.views.needs import sheet_amounts
from collection.views.orders import offers, order_lines, suppliers
from collection.views.supplies import Supply
from collection.views.units import Unit
from collection.views.uses import learnt
from collection.views.wanted import AWAITING

_MINUTES_SQL = f"""
SELECT DISTINCT s.id, s.minutes, t.procedure_id FROM service s JOIN task t ON t.service_id = s.id
WHERE s.void = 0 AND s.minutes > 0 AND {counts("t")} ORDER BY s.id, t.procedure_id"""


@dataclass(frozen=True, slots=True)
class Waits:
    """A unit that no bench day can be found for, and why; works: what is due on it, the earliest first."""

    unit_id: int
    tag: str
    works: tuple[Work, ...]
    why: str

    @property
    def latest(self) -> date | None:
        """The earliest day by which any of it is to be done; None where nothing sets one."""
        return min((work.latest for work in self.works if work.latest), default=None)

    @property
    def minutes(self) -> int:
        """How long it takes."""
        return sum(work.minutes for work in self.works)


@dataclass(frozen=True, slots=True)
class BenchWork:
    """Units at hand now or later with what is due, units that wait, and tags of units nobody knows what is due on.

    of_unit, shown: the facts of each unit and what it is, by id. minutes: of each procedure, by id. models: the folded
    names of each unit's model.
    """

    units: tuple[UnitWork, ...]
    waiting: tuple[Waits, ...]
    no_history: tuple[str, ...]
    of_unit: Mapping[int, UnitFacts]
    shown: Mapping[int, Unit]
    minutes: Mapping[int, Minutes]
    models: Mapping[int, frozenset[str]]


def bench_work(
    conn: Connection, today: date, until: date, rechecks: Rechecks | None = None, day_form: str = "long"
) -> BenchWork:
    """Return the work that comes due until a day.

    A unit on loan is at hand from the day after it is due back, and what is done after each loan is due then.
    """
    facts = due_facts(conn, today, rechecks=rechecks)
    minutes = _minutes(conn, facts.rules)
    plans: dict[tuple[str, ...], Plan] = {}
    units, waiting, no_history = list[UnitWork](), list[Waits](), list[str]()
    for unit in facts.of_units:
        model = (unit.kind, unit.drive_type, unit.maker, unit.model)
        plan = plans.get(model) or plans.setdefault(model, plan_of(facts.rules, *model))
        if unit.standing in LEFT_OUT or not plan.rules:
            continue
        items = due_items(unit, plan, until, day_form)
        if not items and not _has_history(unit, plan):
            no_history.append(unit.tag)
            continue
        works = [_work(item, minutes, plan) for item in items]
        why = _waits(unit, works, today, day_form)
        free_from = today
        if unit.loan_due and not why:
            free_from = parse_day(unit.loan_due).last + timedelta(1)
            works += _after_loan(plan, works, free_from, minutes, show_day(unit.loan_due, day_form))
        if why:
            waiting.append(Waits(unit.id, unit.tag, tuple(works), why))
        else:
            units.append(UnitWork(unit.id, unit.tag, tuple(works), free_from))
    return BenchWork(
        units=tuple(units),
        waiting=tuple(waiting),
        no_history=tuple(no_history),
        of_unit={unit.id: unit for unit in facts.of_units},
        shown=facts.units,
        minutes=minutes,
        models={unit.id: names_of_model(unit.maker, unit.model) for unit in facts.of_units},
    )


@dataclass(frozen=True, slots=True)
class BenchDrawer:
    """What openings take from: the shelves less those that nobody tracks, by supply id, and what procedures take."""

    shelves: Mapping[int, Shelf]
    supplies: Mapping[int, Supply]
    amounts: tuple[Usual, ...]

    def full(self) -> Drawer:
        """Return the drawer as it is today."""
        return Drawer(self.amounts, self.shelves)


def bench_drawer(conn: Connection, today: date) -> BenchDrawer:
    """Return the drawer that openings take from, with what uses so far taught of the amounts."""
    coming = _coming(conn, today)
    held = [each for each in drawer(conn, today) if each.supply.tracked != "no"]
    shelves = {
        each.supply.id: Shelf(
            tuple(lot.as_lot() for lot in each.stock),
            tuple(coming.get(each.supply.id, ())),
            counted=each.supply.tracked == "count",
        )
        for each in held
    }
    taught = learnt(conn, today)
    amounts = (
        usual_amount(sheet, taught[sheet.supply_id].amounts[sheet.procedure_id] if sheet.supply_id in taught else None)
        for sheet in sheet_amounts(conn)
        if sheet.supply_id in shelves
    )
    return BenchDrawer(shelves, {each.supply.id: each.supply for each in held}, tuple(amounts))


def _has_history(unit: UnitFacts, plan: Plan) -> bool:
    return bool(unit.has_history or unit.last_done or unit.baseline or due_items(unit, plan, date.max))


def _waits(unit: UnitFacts, works: Sequence[Work], today: date, day_form: str) -> str:
    """Return why no day can be found for a unit; "" where one can."""
    if unit.loan_due and parse_day(unit.loan_due).last < today:
        return f"on loan and not back, due {show_day(unit.loan_due, day_form)}"
    if unit.standing == "away":
        since = f" since {show_day(unit.standing_since, day_form)}" if unit.standing_since else ""
        return f"away{since}, nobody noted until when"
    if unit.standing == "on loan" and not unit.loan_due:
        return "on loan, nobody noted until when"
    if unit.standing == AWAITING and not any(work.kind == PART_CAME for work in works):
        return AWAITING
    return ""


def _work(item: DueItem, told: Mapping[int, Minutes], plan: Plan) -> Work:
    number = item.procedure_id
    months = next((rule.every_months for rule, _ in plan.rules if rule.id == number), None)
    minutes = ASSUMED_MINUTES if number is None else told[number].minutes
    return Work(number, item.procedure, item.due, item.kind, item.reasons, minutes, months)


def _after_loan(
    plan: Plan, works: Sequence[Work], back: date, minutes: Mapping[int, Minutes], shown: str
) -> list[Work]:
    """Return what is done after each loan and not due already."""
    due = {work.procedure_id for work in works}
    return [
        Work(
            rule.id,
            rule.name,
            back,
            "loan",
            (f"{rule.name}: back from loan, due {shown}",),
            minutes[rule.id].minutes,
            rule.every_months,
        )
        for rule, _ in plan.rules
        if "loan" in rule.after and rule.id not in due
    ]


def _minutes(conn: Connection, rules: Sequence[ProcedureRule]) -> dict[int, Minutes]:
    done: defaultdict[int, list[int]] = defaultdict(list)
    took: dict[int, int] = {}
    for service_id, minutes, procedure_id in fetch(conn, _MINUTES_SQL):
        took[service_id] = minutes
        done[service_id].append(procedure_id)
    services = [(took[each], tuple(procedures)) for each, procedures in done.items()]
    sheets = {rule.id: rule.minutes for rule in rules}
    return minutes_told(sheets, [each for each in services if all(number in sheets for number in each[1])])


def _coming(conn: Connection, today: date) -> dict[int, list[Coming]]:
    """Return what open orders are to bring and when: as was promised, else by the lead time; late ones do not count."""
    found: defaultdict[int, list[Coming]] = defaultdict(list)
    leads = {
        (each.supplier, supply_id): each.lead_days
        for supply_id, listed in offers(conn).items()
        for each in sorted(listed, key=lambda offer: offer.lead_days or 0)
    }
    usual = {supplier.id: supplier.lead_days for supplier in suppliers(conn).values()}
    for line in order_lines(conn):
        lead = leads.get((line.supplier_id, line.supply_id)) or usual.get(line.supplier_id)
        if not line.open_packs or line.pack_steps is None or (line.promised_on is None and lead is None):
            continue
        promised = parse_day(line.promised_on).last if line.promised_on else None
        on = promised or parse_day(line.ordered_on).first + timedelta(days=lead or 0)
        if on >= today:
            found[line.supply_id].append(Coming(on, line.open_packs * line.pack_steps))
    return dict(found)
