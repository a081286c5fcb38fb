"""The bench calendar of a book: what is done on which bench day, what that takes from the drawer, and who waits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.engine import Connection

from collection.analysis.bench_drawer import Asks, Take
from collection.analysis.bench_plan import EARLY_DAYS, Bench, BenchPlan, Opening, plan_bench
from collection.views.bench_work import BenchDrawer, BenchWork, Waits, bench_drawer, bench_work
from collection.views.due import Rechecks
from collection.views.procedures import procedure_list


@dataclass(frozen=True, slots=True)
class BenchView:
    """The calendar with what it rests on.

    takes: what each opening takes, by unit and day; those after the last day take nothing yet. waiting: units with
    work that comes due in that time and no day for it. cautioned: procedures in it before which cautions stand.
    """

    bench: Bench
    plan: BenchPlan
    takes: Mapping[tuple[int, date], tuple[Take, ...]]
    drawer: BenchDrawer
    waiting: tuple[Waits, ...]
    cautioned: tuple[str, ...]
    work: BenchWork


def bench_view(
    conn: Connection, today: date, bench: Bench, rechecks: Rechecks | None = None, day_form: str = "long"
) -> BenchView:
    """Return the bench calendar. rechecks: by unit, of `views.recheck`; without them none is planned."""
    covered = bench.covered
    work = bench_work(conn, today, covered + timedelta(days=EARLY_DAYS), rechecks, day_form)
    plan = plan_bench(work.units, bench)
    drawer = bench_drawer(conn, today)
    stock = drawer.full()
    takes = {
        (opening.unit_id, opening.on): stock.take(asks_of(opening, work.models[opening.unit_id]))
        for day in plan.days
        for opening in day.openings
    }
    waiting = tuple(each for each in work.waiting if each.works and each.works[0].due <= covered)
    return BenchView(bench, plan, takes, drawer, waiting, cautioned(conn, plan.openings), work)


def asks_of(opening: Opening, models: frozenset[str]) -> Asks:
    """Return an opening as the drawer sees it."""
    procedures = tuple(work.procedure_id for work in opening.works if work.procedure_id is not None)
    return Asks(opening.on, procedures, models)


def cautioned(conn: Connection, openings: Iterable[Opening]) -> tuple[str, ...]:
    """Return the procedures in some openings before which cautions stand, in the order of work."""
    done = {work.procedure_id for opening in openings for work in opening.works}
    return tuple(each.name for each in procedure_list(conn) if each.cautions and each.id in done)
