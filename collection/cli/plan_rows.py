"""The rows and sentences of the bench calendar."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from collection.analysis.bench_days import WEEKDAYS, show_weekdays
from collection.analysis.bench_drawer import sum_of_day
from collection.analysis.bench_horizon import ASSUMED_DAYS, ASSUMED_MINUTES
from collection.analysis.bench_plan import FULL
from collection.analysis.bench_words import (
    MOST_URGENT,
    amounts_words,
    bench_day,
    day_words,
    late_words,
    minutes_words,
    short_words,
    takes_words,
)
from collection.cli.show import Column
from collection.errors import typed
from collection.quantity import show_day

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from collection.analysis.bench_drawer import Take
    from collection.analysis.bench_plan import Bench, BenchDay, Opening
    from collection.views.bench_plan import BenchView
    from collection.views.bench_work import BenchDrawer, BenchWork
    from collection.views.supplies import Supply

_MOST_ROWS = 12  # of openings without room, and of units that wait, in a table
_FEW = 3  # procedures whose names a line bears
_MOST_NAMES = 12  # units in one line below it
Row = dict[str, Any]


def columns(form: str) -> Sequence[Column]:
    """Return the columns of the calendar; in a table the day stands above its rows."""
    return (
        Column("day", in_table=False),
        Column("tag", "unit"),
        Column("model", in_table=False),
        Column("minutes", "min"),
        Column("latest", show=lambda day: show_day(day.isoformat(), form) if day else ""),
        Column("days_late", in_table=False),
        Column("procedures", "work"),
        *(Column(key, in_table=False) for key in ("why", "takes", "short")),
        Column("note"),
    )


def settings_words(bench: Bench, weekdays: str | None, minutes: int | None) -> str:
    """Return on which days the calendar stands. weekdays, minutes: as they were told, None where they are assumed."""
    names = ",".join(WEEKDAYS[day] for day in bench.weekdays)
    said = f"Bench days: {show_weekdays(names)}, {bench.minutes} minutes each"
    assumed = [what for what, told in (("day", weekdays), ("minutes", minutes)) if told is None]
    if not assumed:
        return f"{said}."
    return (
        f"{said}; {' and '.join(assumed)} assumed (common practice, no source).\n"
        f"Set yours: spindlebook book set --bench-days {ASSUMED_DAYS} --bench-minutes {ASSUMED_MINUTES}"
    )


def cautions_hint(names: Sequence[str]) -> Iterator[str]:
    """Yield a line on the procedures before which cautions stand."""
    if names:
        what = f"this work: {', '.join(names)}" if len(names) <= _FEW else f"{len(names)} of these procedures"
        read = "Read them first" if len(names) == 1 else "Read each of them first, as with"
        yield f"Cautions stand before {what}. {read}: spindlebook procedure show {typed(names[0])}"


class Calendar:
    """A bench calendar as it is shown, in the book's date form."""

    def __init__(self, view: BenchView, form: str) -> None:
        self.view, self.form = view, form

    def rows(self) -> list[Row]:
        """Return a row for each opening, those after the last day too, then one for each unit that waits."""
        return [*map(self._opening, self.view.plan.openings), *self._waiting()]

    def table(self) -> list[Row]:
        """Return the rows of a table: group is what stands above the first of a day, below what below its last."""
        rows = [row for day in self.view.plan.days for row in self._day(day)]
        last = show_day(self.view.bench.last.isoformat(), self.form)
        rows += _group([self._after(each) for each in self.view.plan.after], f"Only after {last}:")
        return rows + _group(list(self._waiting()), "No day can be found:")

    def _day(self, day: BenchDay) -> list[Row]:
        rows = [self._opening(opening) for opening in day.openings]
        rows[0]["group"] = day_words(day, self.view.bench.minutes, self.form)
        takes = sum_of_day(self.view.takes[opening.unit_id, opening.on] for opening in day.openings)
        rows[-1]["below"] = takes_words(takes, self._say)
        return rows

    def _after(self, opening: Opening) -> Row:
        row = self._opening(opening)
        return row | {"note": ", ".join(filter(None, (bench_day(opening.on, self.form), row["note"])))}

    def _opening(self, opening: Opening) -> Row:
        takes = self.view.takes.get((opening.unit_id, opening.on), ())
        return {
            "day": opening.on,
            "tag": opening.tag,
            "model": self.view.work.shown[opening.unit_id].model,
            "minutes": opening.minutes,
            "latest": opening.latest,
            "days_late": opening.days_late,
            "procedures": [work.procedure for work in opening.works],
            "why": [reason for work in opening.works for reason in work.reasons],
            "takes": [self._say(each, each.steps) for each in takes],
            "short": [short_words(each, self._say) for each in takes if each.short],
            "note": late_words(opening) or None,
        }

    def _waiting(self) -> Iterator[Row]:
        for unit in self.view.waiting:
            yield {
                "tag": unit.tag,
                "model": self.view.work.shown[unit.unit_id].model,
                "minutes": unit.minutes,
                "latest": unit.latest,
                "procedures": [work.procedure for work in unit.works],
                "why": [reason for work in unit.works for reason in work.reasons],
                "takes": [],
                "short": [],
                "note": unit.why,
            }

    def _say(self, take: Take, steps: int) -> str:
        return say_amount(self.view.drawer.supplies, take, steps)

    def above(self) -> Iterator[str]:
        """Yield what is read before the work."""
        yield from cautions_hint(self.view.cautioned)

    def below(self) -> Iterator[str]:
        """Yield what stands below the calendar: what is not in it, what is short, and what the minutes rest on."""
        plan, bench = self.view.plan, self.view.bench
        for what, number in (("without room", len(plan.after)), ("waiting", len(self.view.waiting))):
            if number > _MOST_ROWS:
                yield f"{number - _MOST_ROWS} more {what}: --json and --csv have them all"
        if plan.after or any(opening.late == FULL for opening in plan.openings):
            yield MOST_URGENT
        lacking = self._lacking()
        if lacking:
            names = ", ".join(f"{name} from {bench_day(day, self.form)}" for name, day in lacking.items())
            yield f"short: {names}; what to buy: spindlebook reorder"
        if self.view.work.no_history:
            yield f"no history, so nobody knows what is due: {some(self.view.work.no_history)}"
        if plan.openings:
            yield from basis_words(plan.openings, self.view.work, self.view.drawer)
        else:
            yield f"Nothing is due at the bench until {show_day(bench.last.isoformat(), self.form)}."

    def _lacking(self) -> Mapping[str, date]:
        """Return what is short, and on which day first."""
        found: dict[str, date] = {}
        for (_, day), takes in self.view.takes.items():
            for each in takes:
                if each.short:
                    found.setdefault(self.view.drawer.supplies[each.supply_id].name, day)
        return found


def basis_words(openings: Iterable[Opening], work: BenchWork, drawer: BenchDrawer) -> Iterator[str]:
    """Yield what the minutes and the amounts of some openings rest on."""
    done = dict.fromkeys((each.procedure_id, each.procedure) for opening in openings for each in opening.works)
    yield minutes_words(done, work.minutes)
    yield from amounts_words(done, drawer.amounts, {key: supply.name for key, supply in drawer.supplies.items()})


def say_amount(supplies: Mapping[int, Supply], take: Take, steps: int) -> str:
    """Return an amount as "2 pieces of foam swab, lint-free" is read among others: its commas taken out."""
    supply = supplies[take.supply_id]
    return f"{supply.show(steps)} {supply.name.replace(',', '')}"


def some(tags: Sequence[str]) -> str:
    """Name the first tags, and how many more there are."""
    more = len(tags) - _MOST_NAMES
    return ", ".join(tags[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def _group(rows: Sequence[Row], above: str) -> list[Row]:
    """Return the first rows of a group, with what stands above them."""
    return [{**row, "group": above if number == 0 else ""} for number, row in enumerate(rows[:_MOST_ROWS])]
