"""The work that the schedule sees coming: each piece with its day, how sure that is, and the chance that it happens."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, prod
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.months import add_months
from collection.analysis.needs import Job, names_of_model
from collection.analysis.procedures import ProcedureRule
from collection.analysis.reasons import RecheckDue, UnitFacts
from collection.analysis.recheck import LIMIT
from collection.analysis.schedule import LEFT_OUT, DueUnit, Plan, due_list, plan_of, tag_order
from collection.analysis.stock_plan.given import WorkDay
from collection.analysis.work_days import ASSUMED, Habit, habit_of, next_time, past_years, times
from collection.errors import fold
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.due import Rechecks, due_facts

_TASKS_SQL = f"""
SELECT s.unit_id, t.procedure_id, t.done_on FROM task t JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND {counts("t")} ORDER BY s.unit_id, t.procedure_id, t.done_on"""

_BY_CLOCK = ("months", "first due")
_MONTH = 30.4375  # days


class Work(NamedTuple):
    """One piece of work: what and when, the spread of its day in days, and the chance that it happens at all.

    about: the day about which such work is done, from today; below 0 for what should have been done and has not been.
    """

    job: Job
    about: float
    spread: float
    chance: float


@dataclass(frozen=True, slots=True)
class PlannedWork:
    """The work by day, then by tag. habits: by procedure, how far from its day it is done; no_history: units.

    A procedure without a habit of its own is taken to be done about its day. years: the days of work of past years.
    """

    work: tuple[Work, ...]
    habits: Mapping[int, Habit]
    years: tuple[tuple[WorkDay, ...], ...]
    no_history: int


def planned_work(
    conn: Connection, today: date, days: int, rechecks: Rechecks | None = None, risk: float = 0.0
) -> PlannedWork:
    """Return the work of so many days on the days on which it will really be done, as far as the past tells.

    Overdue work is done from today on, that of units on loan not before they are back. rechecks: by unit, at an
    accepted risk; what they find may ask for a setting, which is planned with the chance.
    """
    facts = due_facts(conn, today, rechecks=rechecks)
    every = {rule.id: rule.every_months for rule in facts.rules}
    habits, worked = _past_work(conn, every)
    # Work that is done early is wanted from further ahead.
    early = ceil(max((-habit.shift for habit in habits.values()), default=0.0))
    due = due_list(facts.of_units, facts.rules, today, days + max(0, early))
    units = {unit.id: unit for unit in facts.of_units}
    found = [work for row in due.rows for work in _of_unit(row, units[row.unit_id], every, habits, today, days)]
    planned = {(one.job.unit_id, one.job.procedure_id) for one in found}
    for unit in facts.of_units:
        # A setting that is due anyway is not done twice.
        asked = _settings(unit, facts.rules, today, days, risk)
        found += [work for work in asked if (unit.id, work.job.procedure_id) not in planned]
    found.sort(key=lambda one: (one.job.on, tag_order(one.job.tag)))
    return PlannedWork(tuple(found), habits, past_years(worked, today), len(due.no_history))


def _past_work(conn: Connection, every_months: Mapping[int, int | None]) -> tuple[dict[int, Habit], dict[date, int]]:
    """Return how far from its day each procedure was done, and how many units were worked on by the calendar each day.

    Of tasks whose very days are known.
    """
    worked: defaultdict[date, set[int]] = defaultdict(set)
    late: defaultdict[int, list[int]] = defaultdict(list)
    before: dict[tuple[int, int], date] = {}
    for unit_id, procedure_id, text in fetch(conn, _TASKS_SQL):
        day, months, key = parse_day(text), every_months.get(procedure_id), (unit_id, procedure_id)
        if not day.full:
            before.pop(key, None)
            continue
        if months is not None:
            worked[day.first].add(unit_id)
        last = before.get(key)
        if last is not None and months is not None and day.first > last:
            late[procedure_id].append((day.first - add_months(last, months)).days)
        before[key] = day.first
    found = {each: habit_of(days, (every_months[each] or 0) * _MONTH) for each, days in late.items()}
    habits = {each: habit for each, habit in found.items() if habit.of}
    return habits, {day: len(units) for day, units in worked.items()}


def _of_unit(
    row: DueUnit,
    unit: UnitFacts,
    every_months: Mapping[int, int | None],
    habits: Mapping[int, Habit],
    today: date,
    days: int,
) -> Iterator[Work]:
    """Yield the work of one unit, each procedure as often as it comes back."""
    models = names_of_model(unit.maker, unit.model)
    for item in row.items:
        if item.procedure_id is None:
            continue
        months = every_months.get(item.procedure_id)
        habit = habits.get(item.procedure_id, ASSUMED)
        # What an event asks for is done when it is due: the habit is that of the interval.
        ahead, own = (item.due - today).days, habit if item.kind in _BY_CLOCK else ASSUMED
        first = next_time(ahead, own, _back(unit, today))
        interval = None if months is None else months * _MONTH
        for time in times(first, interval, habit, days):
            on = today + timedelta(days=round(time.expected))
            job = Job(on, row.tag, item.procedure_id, item.procedure, models, unit.id)
            yield Work(job, time.about, time.spread, 1.0)


def _back(unit: UnitFacts, today: date) -> int:
    """Return in how many days a unit on loan is due back."""
    return max(0, (parse_day(unit.loan_due).first - today).days) if unit.loan_due else 0


def _settings(unit: UnitFacts, rules: Sequence[ProcedureRule], today: date, days: int, risk: float) -> Iterator[Work]:
    """Yield the settings that rechecks of a unit may ask for, each procedure once, with the chance of any of them."""
    if unit.standing in LEFT_OUT or not unit.rechecks:
        return
    plan = plan_of(rules, unit.kind, unit.drive_type, unit.maker, unit.model)
    asked: defaultdict[int, list[tuple[float, int]]] = defaultdict(list)
    for each in unit.rechecks:
        place, ahead = _set_by(plan, each), (each.day - today).days
        if place is not None and ahead <= days:
            asked[place].append((_chance(each, risk), max(ahead, _back(unit, today))))
    models = names_of_model(unit.maker, unit.model)
    for place, found in asked.items():
        rule = plan.rules[place][0]
        none_of_them = prod(1 - chance for chance, _ in found)
        ahead = min(ahead for _, ahead in found)
        on = today + timedelta(days=round(next_time(ahead, ASSUMED).expected))
        yield Work(Job(on, unit.tag, rule.id, rule.name, models, unit.id), ahead, ASSUMED.days, 1 - none_of_them)


def _set_by(plan: Plan, recheck: RecheckDue) -> int | None:
    """Return which procedure sets what is read again, None where reading it again is all there is."""
    measurement = fold(recheck.measurement)
    place = plan.mends.get(measurement)
    return None if place == plan.rechecks.get(measurement) else place


def _chance(recheck: RecheckDue, risk: float) -> float:
    """Return the chance of finding it outside: by the forecast of drift, and by the rule where that knows nothing."""
    if recheck.rule == LIMIT:
        return 1.0
    return risk / 2 if recheck.chance is None else recheck.chance
