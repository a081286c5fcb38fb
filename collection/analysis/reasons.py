"""Why one procedure is due on one unit: one small check per trigger.

Each check takes the rule, the facts of the unit, the day text on which the procedure was last done ("" if
never), the last day that is looked at, and the book's date form; it returns the reasons there are by then.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from collection.analysis.hours import reached, run_hours
from collection.analysis.months import add_months
from collection.analysis.procedures import ProcedureRule
from collection.analysis.recheck import sentence
from collection.errors import fold
from collection.quantity import parse_day, show_day


@dataclass(frozen=True, slots=True)
class Baseline:
    """What was told about the time before the book: the day text last done, or first due; "" if not told."""

    last_done: str = ""
    first_due: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """A last reading out of its limits, as shown: value "304.9 r/min", limit "304.5"; day is a day text."""

    measurement: str
    point: str
    day: str
    value: str
    limit: str


class SinceBack(NamedTuple):
    """What of the day on which a unit went out and came back came after its return, by the order of entry.

    done: procedures, by id. looked: whether a check of its condition or a service came after it.
    """

    done: frozenset[int]
    looked: bool


class Notice(NamedTuple):
    """What asks for a look that no procedure names: since which day text, of what kind, and what it is in words."""

    day: str
    kind: str
    words: str


class RecheckDue(NamedTuple):
    """By which day a measurement at a point is to be read again; rule and why: see analysis.recheck.

    cleared: its last reading lies outside the limits only by what its instrument reads off. chance: of the true value
    being outside on that day, by the forecast, in thousandths; None where nothing is known since its level was reset.
    """

    measurement: str
    point: str
    day: date
    rule: str
    why: str
    cleared: bool = False
    chance: float | None = None


COMPLAINT, PART_CAME = "complaint", "part came"


@dataclass(slots=True)
class UnitFacts:
    """What the due list must know of a unit. Days are day texts, "" where there is none.

    has_history: any service or reading. last_done, baseline: by procedure id. open_faults: (noticed on,
    symptom). hours: (day, hours shown, reset), in order of entry. loan_due: of the loan that is out. since_back: of a
    last loan that ended on the day on which it began; of others the days tell what came after it. rechecks: when what
    is read in numbers is to be read again. notices: what else asks for a look.
    """

    id: int
    tag: str
    kind: str
    drive_type: str = ""
    maker: str = ""
    model: str = ""
    standing: str = ""
    standing_since: str = ""
    loan_due: str = ""
    has_history: bool = False
    last_done: Mapping[int, str] = field(default_factory=dict)
    baseline: Mapping[int, Baseline] = field(default_factory=dict)
    arrived_on: str = ""
    loan_back_on: str = ""
    since_back: SinceBack | None = None
    transported_on: str = ""
    last_used_on: str = ""
    open_faults: Sequence[tuple[str, str]] = ()
    hours: Sequence[tuple[str, float, bool]] = ()
    findings: Sequence[Finding] = ()
    rechecks: Sequence[RecheckDue] = ()
    notices: Sequence[Notice] = ()
    _run: list[tuple[date, float]] | None = field(default=None, init=False, repr=False, compare=False)

    def run(self) -> list[tuple[date, float]]:
        """Return the hours run by day, summed once for all procedures."""
        if self._run is None:
            self._run = run_hours(self.hours)
        return self._run


class Reason(NamedTuple):
    """From which day a procedure is due, by which trigger, and the sentence that says so."""

    due: date
    kind: str
    why: str


Check = Callable[[ProcedureRule, UnitFacts, str, date, str], Sequence[Reason]]


def checks_of(rule: ProcedureRule) -> tuple[Check, ...]:
    """Return the checks that a rule has triggers for; worth finding once, not once per unit."""
    wanted: tuple[tuple[object, Check], ...] = (
        (rule.every_months, _by_months),
        (rule.every_hours, _by_hours),
        (rule.after, _by_event),
        (rule.unused_months, _by_disuse),
        (rule.symptoms, _by_symptom),
    )
    return tuple(check for has_trigger, check in wanted if has_trigger)


def reasons_of(
    rule: ProcedureRule, checks: Sequence[Check], unit: UnitFacts, until: date, day_form: str
) -> list[Reason]:
    """Return why a procedure that applies is due on a unit by `until`, out-of-limit readings left aside."""
    done = unit.last_done.get(rule.id, "")
    reasons: list[Reason] = []
    if unit.baseline:
        told = unit.baseline.get(rule.id, Baseline())
        done = max(done, told.last_done)
        reasons += _by_first_due(rule, told, done, until, day_form)
    for check in checks:
        reasons += check(rule, unit, done, until, day_form)
    return reasons


def finding_reason(finding: Finding) -> Reason:
    """Return why a reading out of its limits is to be looked after: on its own day."""
    what = f"{finding.measurement} {finding.point}".rstrip()
    limit = f", limit {finding.limit}" if finding.limit else ""
    return Reason(_first(finding.day), "limit", f"{what}: last reading {finding.value}{limit}")


def notice_reason(notice: Notice, day_form: str) -> Reason:
    """Return why a unit is to be looked at: from the day of the notice on."""
    return Reason(_first(notice.day), notice.kind, f"{notice.words} {show_day(notice.day, day_form)}")


def true_findings(unit: UnitFacts) -> list[Finding]:
    """Return the last readings out of their limits, less those that only their instrument put there.

    Whoever sets a unit by such a reading sets a sound unit wrong.
    """
    cleared = {(each.measurement, each.point) for each in unit.rechecks if each.cleared}
    return [each for each in unit.findings if (each.measurement, each.point) not in cleared]


def recheck_reasons(unit: UnitFacts, until: date, day_form: str) -> list[tuple[RecheckDue, Reason]]:
    """Return what is to be read again by `until`, points with one and the same answer in one reason.

    What was last read outside its limits is told by that reading already.
    """
    asked = [each for each in unit.rechecks if each.day <= until]
    if not asked:
        return []
    told = {(finding.measurement, finding.point) for finding in true_findings(unit)}
    together: dict[RecheckDue, list[str]] = {}
    for each in asked:
        if (each.measurement, each.point) not in told:
            together.setdefault(each._replace(point=""), []).append(each.point)
    return [
        (
            one,
            Reason(
                one.day,
                "recheck",
                sentence(f"{one.measurement} {', '.join(points)}".rstrip(), one.day, one.rule, one.why, day_form),
            ),
        )
        for one, points in together.items()
    ]


def _first(day: str) -> date:
    """Return the first day that a day text can mean."""
    return parse_day(day).first


@lru_cache(maxsize=65536)
def _months_after(day: str, months: int) -> date:
    """Return the day so many months after the first day that a day text can mean."""
    return add_months(_first(day), months)


def _by_months(rule: ProcedureRule, _: UnitFacts, done: str, until: date, form: str) -> Sequence[Reason]:
    """Due so many months after it was last done; never on a unit it was never recorded on."""
    if rule.every_months is None or not done:
        return ()
    due = _months_after(done, rule.every_months)
    if due > until:
        return ()
    return [Reason(due, "months", f"{rule.name}: {_months(rule.every_months)} since {show_day(done, form)}")]


def _by_hours(rule: ProcedureRule, unit: UnitFacts, done: str, until: date, form: str) -> Sequence[Reason]:
    """Due on the day the meter was read at which the hours had run since it was last done."""
    if rule.every_hours is None or not done or not unit.hours:
        return ()
    found = reached(unit.run(), _first(done), rule.every_hours)
    if found is None or found[0] > until:
        return ()
    why = f"{rule.name}: {found[1]:g} h since {show_day(done, form)}, every {rule.every_hours:g} h"
    return [Reason(found[0], "hours", why)]


def _by_first_due(rule: ProcedureRule, told: Baseline, done: str, until: date, form: str) -> Sequence[Reason]:
    """Due on the day that was told for the first time, until it is done."""
    if done or not told.first_due or _first(told.first_due) > until:
        return ()
    why = f"{rule.name}: first due {show_day(told.first_due, form)}"
    return [Reason(_first(told.first_due), "first due", why)]


def _calls(day: str, done: str, until: date) -> bool:
    """Say whether what happened on a day calls for work: it did, by `until`, and nothing was done since."""
    return bool(day) and not (done and _first(done) >= _first(day)) and _first(day) <= until


def _by_event(rule: ProcedureRule, unit: UnitFacts, done: str, until: date, form: str) -> Sequence[Reason]:
    """Due from the day the unit arrived, came back from a loan, or was transported."""
    events = (
        ("arrival", unit.arrived_on, done, "arrived"),
        ("loan", unit.loan_back_on, _done_by_return(rule, unit, done), "back from loan"),
        ("transport", unit.transported_on, done, "transported"),
    )
    return [
        Reason(_first(day), kind, f"{rule.name}: {words} {show_day(day, form)}")
        for kind, day, done_on, words in events
        if kind in rule.after and _calls(day, done_on, until)
    ]


def _done_by_return(rule: ProcedureRule, unit: UnitFacts, done: str) -> str:
    """Return when a procedure was last done, "" where that was on the day of the return and before it."""
    since = unit.since_back
    return "" if since and done == unit.loan_back_on and rule.id not in since.done else done


def _by_disuse(rule: ProcedureRule, unit: UnitFacts, done: str, until: date, form: str) -> Sequence[Reason]:
    """Due when the unit was neither used nor given this procedure for so many months; never without a use."""
    if rule.unused_months is None or not unit.last_used_on:
        return ()
    last = max(unit.last_used_on, done)
    due = _months_after(last, rule.unused_months)
    if due > until:
        return ()
    why = f"{rule.name}: unused for {_months(rule.unused_months)} since {show_day(last, form)}"
    return [Reason(due, "unused", why)]


def _by_symptom(rule: ProcedureRule, unit: UnitFacts, done: str, until: date, form: str) -> Sequence[Reason]:
    """Due from the day an open fault was noticed whose symptom has all the words of one trigger."""
    return [
        Reason(_first(noticed), "symptom", f'{rule.name}: fault "{symptom}" noticed {show_day(noticed, form)}')
        for noticed, symptom in unit.open_faults
        if _calls(noticed, done, until) and _matches(rule.symptoms, symptom)
    ]


def _matches(triggers: Sequence[Sequence[str]], symptom: str) -> bool:
    """Say whether a symptom holds every word of some trigger; "squealing" holds "squeal"."""
    folded = fold(symptom)
    return any(all(word in folded for word in words) for words in triggers)


def _months(n: int) -> str:
    """Return "1 month", "12 months"."""
    return f"{n} month" if n == 1 else f"{n} months"
