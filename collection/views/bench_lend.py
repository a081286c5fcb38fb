"""Which units of a book can be ready to be lent by a day, what is done before, and what that leaves undone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.engine import Connection

from collection.analysis.bench_drawer import Drawer, Take
from collection.analysis.bench_lend import Candidate, Lending, Lent, LoanDays, Rank, loan_days, works_until
from collection.analysis.bench_plan import (
    EARLY_DAYS,
    FULL,
    NO_DAY,
    PRESSING,
    Bench,
    BenchPlan,
    Opening,
    UnitWork,
    plan_bench,
)
from collection.analysis.readiness import READY
from collection.analysis.reasons import UnitFacts
from collection.errors import Refused, fold
from collection.quantity import parse_day, show_day
from collection.store.engine import fetch
from collection.views.bench_plan import asks_of, cautioned
from collection.views.bench_work import BenchDrawer, BenchWork, bench_drawer, bench_work
from collection.views.condition_checks import failed_conditions
from collection.views.due import Rechecks
from collection.views.loans import borrowed
from collection.views.reservations import Reservation, reservation_list
from collection.views.safety import mains_units, safety_against

_LOANS_SQL = """
SELECT l.out_on, coalesce(i.back_on, l.due_on) FROM loan_item i JOIN loan l ON l.id = i.loan_id
WHERE i.void = 0 AND l.void = 0 AND l.direction = 'out' ORDER BY i.id"""
_MISSED = {FULL: "the bench days before are full", NO_DAY: "no bench day before"}
_YEAR = 365  # days after the loan in which the next work is looked for


@dataclass(frozen=True, slots=True)
class LendView:
    """What can be lent, in the order in which it is chosen.

    bench: the days before the one asked for. through: when the loan is likely over. takes: of each chosen unit that is
    opened, by id. pushed: openings of other units that come after their latest date, or later after it, since these
    come first. not_by: units that cannot be ready, each with why. days: how many bench days there are before.
    """

    lent: Lent
    by: date
    through: date
    loans: LoanDays
    bench: Bench
    days: int
    takes: Mapping[int, tuple[Take, ...]]
    drawer: BenchDrawer
    pushed: tuple[Opening, ...]
    not_by: tuple[tuple[str, str], ...]
    cautioned: tuple[str, ...]
    work: BenchWork

    @property
    def openings(self) -> tuple[Opening, ...]:
        """What is opened before, in the order in which it was chosen."""
        return tuple(chosen.opening for chosen in self.lent.chosen if chosen.opening is not None)


def lend_view(
    conn: Connection,
    today: date,
    bench: Bench,
    by: date,
    wanted: int,
    kind: str,
    rechecks: Rechecks | None = None,
    day_form: str = "long",
) -> LendView:
    """Return which units of a kind can be ready before a day, `wanted` at most.

    bench: the days on which all work is planned, from today on. Raises Refused for a kind of which there is no unit.
    """
    loans = loan_days(_lasted(conn))
    through = by + timedelta(loans.days)
    until = max(bench.covered + timedelta(EARLY_DAYS), through + timedelta(_YEAR))
    work = bench_work(conn, today, until, rechecks, day_form)
    _check_kind(work, kind)
    of_others = borrowed(conn)
    kept = [row for row in reservation_list(conn, today) if _shares(row, by, through)]
    promised = {row.unit_id: row.from_date for row in reversed(kept)}
    mains, failed = mains_units(conn), failed_conditions(conn, today)
    candidates, not_by = list[Candidate](), list(_blocked(work, kind))
    for unit in work.units:
        facts = work.of_unit[unit.unit_id]
        if fold(facts.kind) != fold(kind):
            continue
        if unit.free_from >= by:
            not_by.append((unit.tag, f"on loan until {show_day(facts.loan_due, day_form)}"))
        elif unit.unit_id in of_others:
            not_by.append((unit.tag, "borrowed from its owner"))
        elif facts.id in promised:
            not_by.append((unit.tag, f"reserved from {show_day(promised[facts.id], day_form)}"))
        elif facts.id in failed:
            not_by.append((unit.tag, f"condition graded fail on {show_day(failed[facts.id], day_form)}"))
        elif facts.id in mains and (unsafe := safety_against(conn, facts.id, through)):
            not_by.append((unit.tag, unsafe))
        else:
            candidates.append(Candidate(unit, _rank(facts, unit, through), work.models[unit.unit_id]))
    drawer = bench_drawer(conn, today)
    lent = Lending(bench.calendar(), drawer.full(), bench.first, by, through).choose(candidates, wanted)
    not_by += [(candidate.unit.tag, _MISSED[why]) for candidate, why in lent.missed]
    openings = [chosen.opening for chosen in lent.chosen if chosen.opening is not None]
    return LendView(
        lent=lent,
        by=by,
        through=through,
        loans=loans,
        bench=bench,
        days=bench.calendar().last_until(by - timedelta(1)) + 1,
        takes=_takes(drawer.full(), openings, work),
        drawer=drawer,
        pushed=_pushed(work.units, bench, {opening.unit_id: through for opening in openings}),
        not_by=tuple(not_by),
        cautioned=cautioned(conn, openings),
        work=work,
    )


def _shares(row: Reservation, by: date, through: date) -> bool:
    """Say whether a reservation and a loan share a day."""
    return row.from_date <= through.isoformat() and row.to_date >= by.isoformat()


def _lasted(conn: Connection) -> Iterator[int]:
    """Yield how many days past loans lasted, of those whose days are known."""
    for out_on, back_on in fetch(conn, _LOANS_SQL):
        out, back = parse_day(out_on), parse_day(back_on)
        if out.full and back.full:
            yield (back.first - out.first).days


def _check_kind(work: BenchWork, kind: str) -> None:
    known = {fold(unit.kind): unit.kind for unit in work.of_unit.values()}
    if known and fold(kind) not in known:
        raise Refused(f'There is no unit of the kind "{kind}".', f"Type one of: {', '.join(sorted(known.values()))}.")


def _blocked(work: BenchWork, kind: str) -> Iterator[tuple[str, str]]:
    """Yield the units of a kind that wait, or of which nobody knows what they need."""
    for unit in work.waiting:
        if fold(work.of_unit[unit.unit_id].kind) == fold(kind):
            yield unit.tag, unit.why
    by_tag = {facts.tag: facts for facts in work.of_unit.values()}
    for tag in work.no_history:
        if fold(by_tag[tag].kind) == fold(kind):
            yield tag, "no history, so nobody knows what it needs"


def _rank(facts: UnitFacts, unit: UnitWork, through: date) -> Rank:
    works = works_until(unit, through)
    if facts.open_faults or any(work.kind in PRESSING for work in works):
        return Rank.UNCERTAIN
    return Rank.READY if not works and facts.standing in READY else Rank.NEEDS_WORK


def _takes(stock: Drawer, openings: Sequence[Opening], work: BenchWork) -> dict[int, tuple[Take, ...]]:
    """Return what each opening takes, by unit, the earliest day first."""
    return {
        opening.unit_id: stock.take(asks_of(opening, work.models[opening.unit_id]))
        for opening in sorted(openings, key=lambda opening: opening.on)
    }


def _pushed(units: Sequence[UnitWork], bench: Bench, wanted: Mapping[int, date]) -> tuple[Opening, ...]:
    """Return the openings that are later after their latest date than without what is wanted."""
    before = _late(plan_bench(units, bench))
    after = _late(plan_bench(units, bench, wanted))
    return tuple(
        opening
        for key, opening in after.items()
        if key not in before or (opening.days_late or 0) > (before[key].days_late or 0)
    )


def _late(plan: BenchPlan) -> dict[tuple[int, date | None], Opening]:
    return {(opening.unit_id, opening.latest): opening for opening in plan.openings if (opening.days_late or 0) > 0}
