"""Which work is due on which unit, when, and why: one row per unit, as one opening does several procedures.

Pure functions over plain values. Intervals are months (a partial day counts from its first day) and running
hours where a meter is read, whichever comes first: the two clocks of IASA-TC 04, 5.4.7. Which procedures
apply is found once per model, and words are made only for what is shown: ten thousand units take well under a
second.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from operator import attrgetter
from typing import NamedTuple

from collection.analysis.procedures import ProcedureRule, Reset, parse_procedure
from collection.analysis.reasons import (
    COMPLAINT,
    Baseline,
    Check,
    Finding,
    Reason,
    RecheckDue,
    UnitFacts,
    checks_of,
    finding_reason,
    notice_reason,
    reasons_of,
    recheck_reasons,
    true_findings,
)
from collection.analysis.recheck import LONGEST
from collection.errors import Refused, fold
from collection.quantity import show_day

__all__ = [
    "LEFT_OUT",
    "LOOK_AT",
    "NOT_AT_HAND",
    "Baseline",
    "DueItem",
    "DueList",
    "DueProcedure",
    "DueUnit",
    "Finding",
    "Plan",
    "ProcedureRule",
    "RecheckDue",
    "Reset",
    "UnitFacts",
    "by_procedure",
    "due_items",
    "due_list",
    "parse_procedure",
    "plan_of",
    "tag_order",
]

LEFT_OUT = frozenset({"missing", "gone", "donor"})
NOT_AT_HAND = frozenset({"on loan", "away"})
LOOK_AT = "look at"  # stands for a procedure where none resets or retests what is out of its limits
_LONGEST_HORIZON = 36525  # days
_NEVER = 10**6  # months
_CLOCK = ("months", "first due")


@dataclass(frozen=True, slots=True)
class Plan:
    """What applies to the units of one model: its procedures, and which of them mends or rechecks a measurement.

    rules: in the order of work, each with the checks it needs. mends, rechecks: folded measurement to place in `rules`.
    """

    rules: tuple[tuple[ProcedureRule, tuple[Check, ...]], ...]
    mends: Mapping[str, int]
    rechecks: Mapping[str, int]

    def recheck_months(self, measurement: str) -> int | None:
        """Return the months of the procedure that reads a measurement again without setting it; None without one."""
        place = self.rechecks.get(fold(measurement))
        return None if place is None else self.rules[place][0].every_months


class DueItem(NamedTuple):
    """One procedure that is due on a unit: from when, and why (all reasons as sentences, earliest first).

    kind: months, hours, first due, arrival, loan, transport, unused, symptom, limit, recheck, complaint or part came,
    of the earliest reason. procedure_id is None for a plain "look at".
    """

    procedure: str
    procedure_id: int | None
    due: date
    reasons: tuple[str, ...]
    kind: str

    @property
    def why(self) -> str:
        """All reasons in one line."""
        return "; ".join(self.reasons)


class DueUnit(NamedTuple):
    """One row of the due list: the earliest day of its items; days_over is negative while that is ahead."""

    unit_id: int
    tag: str
    due: date
    days_over: int
    items: tuple[DueItem, ...]
    note: str
    at_hand: bool


@dataclass(frozen=True, slots=True)
class DueProcedure:
    """One procedure with all the units it is due on, most overdue first."""

    procedure: str
    procedure_id: int | None
    due: date
    days_over: int
    units: tuple[tuple[DueUnit, DueItem], ...]


@dataclass(frozen=True, slots=True)
class DueList:
    """The rows due by `until`, the tags without any history, and how many units were left out by standing."""

    until: date
    rows: tuple[DueUnit, ...]
    no_history: tuple[str, ...]
    left_out: Mapping[str, int]


def due_list(
    units: Iterable[UnitFacts],
    rules: Sequence[ProcedureRule],
    today: date,
    within_days: int = 30,
    day_form: str = "long",
) -> DueList:
    """Return what is overdue and what falls due within so many days, most overdue first, then by tag.

    rules: in the order of work. Units that are missing, gone or a donor are only counted; units on loan or
    away keep their rows, with a note. A unit without service, reading, told day or trigger has no history and
    no row; one that no rule applies to (a disk) is in neither. Raises Refused for a horizon below 0 or above
    a hundred years.
    """
    if not 0 <= within_days <= _LONGEST_HORIZON:
        raise Refused(f"{within_days} days ahead is outside 0 to {_LONGEST_HORIZON}.", "Type a number of days, as 30.")
    until = today + timedelta(days=within_days)
    plans: dict[tuple[str, ...], Plan] = {}
    rows, no_history, left_out = [], [], dict[str, int]()
    for unit in units:
        if unit.standing in LEFT_OUT:
            left_out[unit.standing] = left_out.get(unit.standing, 0) + 1
            continue
        model = (unit.kind, unit.drive_type, unit.maker, unit.model)
        plan = plans.get(model) or plans.setdefault(model, plan_of(rules, *model))
        items = due_items(unit, plan, until, day_form)
        if items:
            rows.append(_row(unit, items, today, day_form))
        elif plan.rules and not (
            unit.has_history or unit.last_done or unit.baseline or due_items(unit, plan, date.max)
        ):
            no_history.append(unit.tag)
    rows.sort(key=lambda row: (row.due, tag_order(row.tag)))
    return DueList(until, tuple(rows), tuple(sorted(no_history, key=tag_order)), dict(sorted(left_out.items())))


def plan_of(rules: Sequence[ProcedureRule], kind: str, drive_type: str, maker: str, model: str) -> Plan:
    """Return which of the rules apply to a model, and which of those mends each measurement.

    A measurement out of its limits is mended by a procedure that resets it, else by one that retests it. Of
    several, the one that disturbs least: fewest resets, level before slope, least time, then order of work. It is
    rechecked by a procedure that retests it without resetting it: the one that is done most often, then the gentlest.
    """
    applying = tuple(rule for rule in rules if rule.applies(kind, drive_type, maker, model))
    gentle = sorted(range(len(applying)), key=lambda place: _disturbance(applying[place]))
    mends: dict[str, int] = {}
    for place in gentle:
        for reset in applying[place].resets:
            mends.setdefault(reset.measurement, place)
    for place in gentle:
        for measurement in applying[place].retests:
            mends.setdefault(measurement, place)
    return Plan(tuple((rule, checks_of(rule)) for rule in applying), mends, _rechecks(applying, gentle))


def _rechecks(applying: Sequence[ProcedureRule], gentle: Sequence[int]) -> dict[str, int]:
    found: dict[str, int] = {}
    for place in sorted(gentle, key=lambda place: applying[place].every_months or _NEVER):
        rule = applying[place]
        for measurement in set(rule.retests) - {reset.measurement for reset in rule.resets}:
            found.setdefault(measurement, place)
    return found


def due_items(unit: UnitFacts, plan: Plan, until: date, day_form: str = "long") -> tuple[DueItem, ...]:
    """Return what is due on one unit by a day (date.max for everything ahead), earliest first.

    Items of one day keep the order of work.
    """
    found: dict[int, list[Reason]] = {}
    for place, (rule, checks) in enumerate(plan.rules):
        reasons = reasons_of(rule, checks, unit, until, day_form)
        if reasons:
            found[place] = reasons
    last = len(plan.rules)
    for finding in true_findings(unit):
        reason = finding_reason(finding)
        if reason.due <= until:
            found.setdefault(plan.mends.get(fold(finding.measurement), last), []).append(reason)
    for asked, reason in recheck_reasons(unit, until, day_form):
        measurement = fold(asked.measurement)
        place = plan.rechecks.get(measurement, plan.mends.get(measurement, last))
        said = found.setdefault(place, [])
        # Where the months of the procedure end no later, its longest interval says nothing new.
        if asked.rule != LONGEST or not any(each.kind in _CLOCK and each.due <= asked.day for each in said):
            said.append(reason)
    symptoms = {reason.due for reasons in found.values() for reason in reasons if reason.kind == "symptom"}
    for notice in unit.notices:
        reason = notice_reason(notice, day_form)
        # A complaint whose words call for a procedure is said there.
        if reason.due <= until and not (notice.kind == COMPLAINT and reason.due in symptoms):
            found.setdefault(last, []).append(reason)
    items = [_item(None if place == last else plan.rules[place][0], found[place]) for place in sorted(found)]
    return tuple(sorted(items, key=attrgetter("due")))


def by_procedure(rows: Iterable[DueUnit], today: date) -> tuple[DueProcedure, ...]:
    """Return the same work grouped by procedure, most overdue first, then by name."""
    groups: dict[tuple[str, int | None], list[tuple[DueUnit, DueItem]]] = {}
    for row in rows:
        for item in row.items:
            groups.setdefault((item.procedure, item.procedure_id), []).append((row, item))
    listed = []
    for (name, procedure_id), work in groups.items():
        work.sort(key=lambda pair: (pair[1].due, tag_order(pair[0].tag)))
        due = work[0][1].due
        listed.append(DueProcedure(name, procedure_id, due, (today - due).days, tuple(work)))
    return tuple(sorted(listed, key=lambda group: (group.due, fold(group.procedure))))


@lru_cache(maxsize=65536)
def tag_order(tag: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key under which D2 stands before D10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", fold(tag))
    return tuple((0, int(part), "") if part[0] in "0123456789" else (1, 0, part) for part in parts)


def _disturbance(rule: ProcedureRule) -> tuple[int, bool, int]:
    """Return how much a procedure undoes of what is known about a unit, and how long it takes."""
    return len(rule.resets), any(reset.slope for reset in rule.resets), rule.minutes or 0


def _item(rule: ProcedureRule | None, reasons: Iterable[Reason]) -> DueItem:
    """Return one item for a procedure (None: a plain look), with all its reasons."""
    ordered = sorted(reasons, key=attrgetter("due"))
    name, procedure_id = (rule.name, rule.id) if rule is not None else (LOOK_AT, None)
    said = tuple(reason.why for reason in ordered)
    return DueItem(name, procedure_id, ordered[0].due, said, ordered[0].kind)


def _row(unit: UnitFacts, items: tuple[DueItem, ...], today: date, day_form: str) -> DueUnit:
    """Return the row of a unit."""
    due = items[0].due
    at_hand = unit.standing not in NOT_AT_HAND
    note = "" if at_hand else _whereabouts(unit, day_form)
    return DueUnit(unit.id, unit.tag, due, (today - due).days, items, note, at_hand)


def _whereabouts(unit: UnitFacts, day_form: str) -> str:
    """Return why a unit is not at hand: "on loan until 3 Dec 2025", "away since 3 Dec 2025"."""
    if unit.standing == "on loan" and unit.loan_due:
        return f"on loan until {show_day(unit.loan_due, day_form)}"
    if unit.standing_since:
        return f"{unit.standing} since {show_day(unit.standing_since, day_form)}"
    return unit.standing
