"""What is due: the facts in a few statements over all units, then the rules of the analysis."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.procedures import ProcedureRule
from collection.analysis.reasons import COMPLAINT, Baseline, Notice, RecheckDue, UnitFacts
from collection.analysis.schedule import LEFT_OUT, DueItem, DueList, due_items, due_list, plan_of
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.due_after_loan import CHECKED_SQL, since_back, unlooked_at
from collection.views.findings import Judged, findings, judge, measurements
from collection.views.limits import Limits
from collection.views.procedure_rules import procedure_rules
from collection.views.readings import Last, last_by_series, with_mechanisms
from collection.views.units import Unit, unit_list, unit_on
from collection.views.wanted import parts_came

LAST_DONE_SQL = f"""
SELECT s.unit_id, t.procedure_id, max(t.done_on) FROM task t JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND {counts("t")}{{only}} GROUP BY s.unit_id, t.procedure_id
"""
LAST_SERVICE_SQL = """
SELECT s.unit_id, max(coalesce(s.closed_on, s.opened_on)) FROM service s
WHERE s.void = 0{only} GROUP BY s.unit_id
"""
BASELINES_SQL = f"""
SELECT s.unit_id, s.procedure_id, s.last_done, s.first_due FROM baseline s
WHERE {counts("s")}{{only}} ORDER BY s.id
"""
FAULTS_SQL = """
SELECT s.unit_id, s.noticed_on, s.symptom FROM fault s
WHERE s.void = 0 AND s.closed_on IS NULL{only} ORDER BY s.id
"""
COMPLAINTS_SQL = """
SELECT s.unit_id, s.noticed_on, s.symptom FROM fault s
WHERE s.void = 0 AND s.closed_on IS NULL AND s.loan_id IS NOT NULL{only} ORDER BY s.id
"""
HOURS_SQL = f"""
SELECT s.unit_id, s.read_on, s.hours, s.reset FROM hour_reading s WHERE {counts("s")}{{only}} ORDER BY s.id
"""
# With the last day on which a unit both went out and came back.
LOANS_BACK_SQL = """
SELECT s.unit_id, max(s.back_on), max(CASE WHEN l.out_on = s.back_on THEN s.back_on END)
FROM loan_item s JOIN loan l ON l.id = s.loan_id
WHERE s.void = 0 AND l.void = 0 AND l.direction = 'out' AND s.back_on <= :day{only} GROUP BY s.unit_id
"""
# When each unit last came into a standing, and when it last left it for another one.
STANDINGS_SQL = f"""
SELECT unit_id, standing, max(from_date), max(until) FROM (
    SELECT s.unit_id, s.standing, s.from_date,
      CASE WHEN lead(s.standing) OVER entries <> s.standing THEN lead(s.from_date) OVER entries END AS until
    FROM unit_entry s WHERE s.what = 'standing' AND s.from_date <= :day AND {counts("s")}{{only}}
    WINDOW entries AS (PARTITION BY s.unit_id ORDER BY s.from_date, s.id)) spans
WHERE standing IN ('arrived', 'in use', 'away') GROUP BY unit_id, standing
"""
_IN_USE = ("in use", "on loan")

Days = Mapping[int, str]
Rechecks = Mapping[int, Sequence[RecheckDue]]


@dataclass(frozen=True, slots=True)
class DueView:
    """The due list with the units its rows speak of, by id."""

    due: DueList
    units: Mapping[int, Unit]


@dataclass(frozen=True, slots=True)
class Facts:
    """What the due list was made from, for whoever shows more of it. Units by id, in the order of tags."""

    units: Mapping[int, Unit]
    rules: Sequence[ProcedureRule]
    judged: Sequence[Judged]
    of_units: Sequence[UnitFacts]


def due_view(conn: Connection, today: date, within_days: int = 30, rechecks: Rechecks | None = None) -> DueView:
    """Return what is overdue on `today` and what falls due within so many days.

    rechecks: by unit, of `views.recheck`, which fits the whole fleet; without them none is due.
    """
    facts = due_facts(conn, today, rechecks=rechecks)
    return DueView(due_list(facts.of_units, facts.rules, today, within_days), facts.units)


def due_facts(conn: Connection, today: date, unit_id: int | None = None, rechecks: Rechecks | None = None) -> Facts:
    """Return what decides about due work on `today`, of all units or of one."""
    units = unit_list(conn, today) if unit_id is None else [unit_on(conn, unit_id, today)]
    gather = _Gather(conn, today, unit_id)
    rules = procedure_rules(conn)
    taken = last_by_series(conn, unit_id)
    judged = judge(
        with_mechanisms(conn, taken, unit_id),
        Limits(conn),
        measurements(conn),
        {unit.id: unit.model_id for unit in units},
    )
    of_units = _unit_facts(units, gather, judged, _last_read(taken), with_hours=any(rule.every_hours for rule in rules))
    asked = rechecks or {}
    for unit in of_units:
        unit.rechecks = asked.get(unit.id, ())
    days = (CHECKED_SQL, LAST_SERVICE_SQL)
    for unit, notice in unlooked_at(of_units, rules, lambda: map(gather.days, days)):
        unit.notices = [*unit.notices, notice]
    return Facts({unit.id: unit for unit in units}, rules, judged, of_units)


def work_ahead(facts: Facts) -> tuple[DueItem, ...]:
    """Return all that is due on the first unit of the facts, now and ahead, the earliest first.

    Nothing for a unit that is missing, gone or a donor.
    """
    about = facts.of_units[0]
    if about.standing in LEFT_OUT:
        return ()
    plan = plan_of(facts.rules, about.kind, about.drive_type, about.maker, about.model)
    return due_items(about, plan, date.max)


class _Gather:
    """Reads facts of all units, or of one."""

    def __init__(self, conn: Connection, day: date, unit_id: int | None) -> None:
        self.conn, self.day, self.unit_id = conn, day.isoformat(), unit_id

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        """Return the rows of a statement that has `{only}` where the unit is named."""
        bound: dict[str, Any] = {"day": self.day} if ":day" in sql else {}
        if self.unit_id is None:
            return fetch(self.conn, sql.format(only=""), **bound)
        return fetch(self.conn, sql.format(only=" AND s.unit_id = :unit"), unit=self.unit_id, **bound)

    def days(self, sql: str) -> Days:
        """Return one day text per unit."""
        return dict(self.rows(sql))

    def lists(self, sql: str) -> Mapping[int, list[Any]]:
        """Return per unit the rest of its rows."""
        found: dict[int, list[Any]] = defaultdict(list)
        for unit_id, *rest in self.rows(sql):
            found[unit_id].append(tuple(rest))
        return found


def _unit_facts(
    units: Iterable[Unit], gather: _Gather, judged: Sequence[Judged], read: Days, *, with_hours: bool
) -> list[UnitFacts]:
    out = findings(judged)
    services, (loans_back, same_day) = gather.days(LAST_SERVICE_SQL), _loans_back(gather)
    since = since_back(gather.conn, same_day)
    done, told, faults = _last_done(gather), _baselines(gather), gather.lists(FAULTS_SQL)
    hours = gather.lists(HOURS_SQL) if with_hours else {}
    came, left = _standings(gather)
    notices = _notices(gather, units)
    made = []
    for unit in units:
        key = unit.id
        used = max(services.get(key, ""), read.get(key, ""), loans_back.get(key, ""), left.get((key, "in use"), ""))
        made.append(
            UnitFacts(
                id=key,
                tag=unit.tag,
                kind=unit.kind,
                drive_type=unit.drive_type,
                maker=unit.maker,
                model=unit.model,
                standing=unit.standing,
                standing_since=unit.standing_from,
                loan_due=unit.loan.due_on if unit.loan else "",
                has_history=key in services or key in read,
                last_done=done.get(key, {}),
                baseline=told.get(key, {}),
                arrived_on=came.get((key, "arrived"), ""),
                loan_back_on=loans_back.get(key, ""),
                since_back=since.get(key),
                transported_on=left.get((key, "away"), ""),
                last_used_on="" if unit.standing in _IN_USE else used,
                open_faults=faults.get(key, ()),
                hours=hours.get(key, ()),
                findings=out.get(key, ()),
                notices=notices.get(key, ()),
            )
        )
    return made


def _notices(gather: _Gather, units: Iterable[Unit]) -> dict[int, list[Notice]]:
    """Return the complaints with which units came back from loans and that are open still, and parts that came."""
    found = parts_came(gather.conn, {unit.id: unit for unit in units}, date.fromisoformat(gather.day))
    for unit_id, faults in gather.lists(COMPLAINTS_SQL).items():
        complaints = [Notice(day, COMPLAINT, f'complaint "{symptom}" of') for day, symptom in faults]
        found[unit_id] = [*found.get(unit_id, ()), *complaints]
    return found


def _last_read(taken: Iterable[Last]) -> Days:
    """Return when each unit itself was last read: its mechanism may have gone since, the unit ran all the same."""
    read: dict[int, str] = {}
    for last in taken:
        if last.taken_on > read.get(last.unit_id, ""):
            read[last.unit_id] = last.taken_on
    return read


def _loans_back(gather: _Gather) -> tuple[Days, Days]:
    """Return when each unit last came back from a loan, and of which it went out on that same day."""
    rows = gather.rows(LOANS_BACK_SQL)
    return {unit: back for unit, back, _ in rows}, {unit: back for unit, back, same in rows if same == back}


def _last_done(gather: _Gather) -> Mapping[int, dict[int, str]]:
    done: dict[int, dict[int, str]] = defaultdict(dict)
    for unit_id, procedure_id, day in gather.rows(LAST_DONE_SQL):
        done[unit_id][procedure_id] = day
    return done


def _baselines(gather: _Gather) -> Mapping[int, dict[int, Baseline]]:
    """Return what was told last of each unit and procedure."""
    told: dict[int, dict[int, Baseline]] = defaultdict(dict)
    for unit_id, procedure_id, last_done, first_due in gather.rows(BASELINES_SQL):
        told[unit_id][procedure_id] = Baseline(last_done or "", first_due or "")
    return told


def _standings(gather: _Gather) -> tuple[dict[tuple[int, str], str], dict[tuple[int, str], str]]:
    """Return when each unit last came into a standing, and when it last left one."""
    came, left = {}, {}
    for unit_id, standing, since, until in gather.rows(STANDINGS_SQL):
        came[unit_id, standing] = since
        if until is not None:
            left[unit_id, standing] = until
    return came, left
