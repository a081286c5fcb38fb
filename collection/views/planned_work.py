"""The work that the schedule sees coming: each piece with its day, how sure that is, and the chance that it happens."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.months import add_months
from collection.analysis.needs import Job, jobs, names_of_model
from collection.analysis.procedures import ProcedureRule
from collection.analysis.reasons import RecheckDue, UnitFacts
from collection.analysis.recheck import LIMIT, RISK, SHORTEST
from collection.analysis.schedule import LEFT_OUT, Plan, due_list, plan_of, tag_order
from collection.analysis.work_days import DaysOff, days_off, spread_of
from collection.errors import fold
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.due import Rechecks, due_facts

_TASKS_SQL = f"""
SELECT s.unit_id, t.procedure_id, t.done_on FROM task t JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND {counts("t")} ORDER BY s.unit_id, t.procedure_id, t.done_on"""


class Work(NamedTuple):
    """One piece of work: what and when, the spread of its day in days, and the chance that it happens at all."""

    job: Job
    spread: float
    chance: float


@dataclass(frozen=True, slots=True)
class PlannedWork:
    """The work by day, then by tag. off: how far from its day work is done. no_history: units nobody knows of."""

    work: tuple[Work, ...]
    off: DaysOff
    no_history: int


def planned_work(
    conn: Connection, today: date, days: int, rechecks: Rechecks | None = None, risk: float = 0.0
) -> PlannedWork:
    """Return the work of so many days, overdue work today, and that of units on loan not before they are back.

    rechecks: by unit, at an accepted risk; what they find may ask for a setting, which is planned with the chance.
    """
    facts = due_facts(conn, today, rechecks=rechecks)
    until = today + timedelta(days=days)
    due = due_list(facts.of_units, facts.rules, today, days)
    every = {rule.id: rule.every_months for rule in facts.rules}
    loans = {unit.id: unit.loan_due for unit in facts.of_units if unit.loan_due}
    models = {unit.id: names_of_model(unit.maker, unit.model) for unit in facts.of_units}
    sure = jobs(due.rows, every, loans, models, today, until)
    off = _days_off(conn, every)
    found = [Work(job, spread_of(off, job.repeat), 1.0) for job in sure]
    planned = {(job.unit_id, job.procedure_id) for job in sure}
    for unit in facts.of_units:
        back = max(today, parse_day(loans[unit.id]).first) if unit.id in loans else today
        for job, chance in _settings(unit, facts.rules, models[unit.id], back, until, risk):
            # A setting that is due anyway is not done twice.
            if (job.unit_id, job.procedure_id) not in planned:
                found.append(Work(job, off.days, chance))
    found.sort(key=lambda one: (one.job.on, tag_order(one.job.tag)))
    return PlannedWork(tuple(found), off, len(due.no_history))


def _days_off(conn: Connection, every_months: Mapping[int, int | None]) -> DaysOff:
    """Return how far from its day the work of this book was done, by tasks whose very days are known."""
    late, before = list[int](), dict[tuple[int, int], date]()
    for unit_id, procedure_id, text in fetch(conn, _TASKS_SQL):
        day, months, key = parse_day(text), every_months.get(procedure_id), (unit_id, procedure_id)
        if not day.full:
            before.pop(key, None)
            continue
        last = before.get(key)
        if last is not None and months is not None and day.first > last:
            late.append((day.first - add_months(last, months)).days)
        before[key] = day.first
    return days_off(late)


def _settings(
    unit: UnitFacts, rules: Sequence[ProcedureRule], models: frozenset[str], back: date, until: date, risk: float
) -> Iterator[tuple[Job, float]]:
    """Yield the settings that rechecks of a unit may ask for, each procedure once, at its likeliest."""
    if unit.standing in LEFT_OUT or not unit.rechecks:
        return
    plan = plan_of(rules, unit.kind, unit.drive_type, unit.maker, unit.model)
    asked: defaultdict[int, list[tuple[float, date]]] = defaultdict(list)
    for each in unit.rechecks:
        place = _set_by(plan, each)
        if place is not None and each.day <= until:
            asked[place].append((_chance(each.rule, risk), max(each.day, back)))
    for place, found in asked.items():
        rule = plan.rules[place][0]
        none_of_them = 1.0
        for chance, _ in found:
            none_of_them *= 1 - chance
        on = min(day for _, day in found)
        yield Job(on, unit.tag, rule.id, rule.name, models, unit.id), 1 - none_of_them


def _set_by(plan: Plan, recheck: RecheckDue) -> int | None:
    """Return which procedure sets what is read again, None where reading it again is all there is."""
    measurement = fold(recheck.measurement)
    place = plan.mends.get(measurement)
    return None if place == plan.rechecks.get(measurement) else place


def _chance(rule: str, risk: float) -> float:
    """Return the chance of finding it outside, by the rule that set the day; of a range of chances its middle."""
    if rule == LIMIT:
        return 1.0
    if rule == RISK:
        return risk
    return (risk + 1) / 2 if rule == SHORTEST else risk / 2
