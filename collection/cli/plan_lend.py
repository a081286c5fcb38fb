"""The rows and sentences of plan --lend."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from collection.analysis.bench_lend import next_due
from collection.analysis.bench_words import (
    bench_day,
    late_words,
    lend_note,
    lend_words,
    loan_words,
    short_words,
)
from collection.cli.plan_rows import basis_words, cautions_hint, say_amount
from collection.cli.show import Column
from collection.quantity import show_day

if TYPE_CHECKING:
    from datetime import date

    from collection.analysis.bench_drawer import Take
    from collection.analysis.bench_lend import Chosen
    from collection.analysis.bench_plan import Opening
    from collection.views.bench_lend import LendView

_MOST_LINES = 12


def lend_columns(form: str) -> Sequence[Column]:
    """Return the columns of the units that can be lent."""

    def day(value: date | None) -> str:
        return show_day(value.isoformat(), form) if value else ""

    return (
        Column("tag", "unit"),
        *(Column(key, in_table=False) for key in ("model", "standing", "day")),
        Column("ready"),
        Column("minutes", "min", show=lambda minutes: str(minutes) if minutes else ""),
        Column("procedures", "work before"),
        *(Column(key, in_table=False) for key in ("why", "takes", "short")),
        Column("next_due", "next due", show=day),
        Column("note"),
    )


class Lending:
    """Which units can be lent, as it is shown, in the book's date form; wanted: how many were asked for."""

    def __init__(self, view: LendView, wanted: int, kind: str, form: str) -> None:
        self.view, self.wanted, self.kind, self.form = view, wanted, kind, form

    def rows(self) -> list[dict[str, Any]]:
        """Return a row for each unit, in the order in which they are chosen."""
        return [self._row(chosen) for chosen in self.view.lent.chosen]

    def above(self) -> Iterator[str]:
        """Yield how many can be ready, until when nothing comes due on them, and what is read before the work."""
        view, number = self.view, len(self.view.lent.chosen)
        units = f"{number} unit" if number == 1 else f"{number} units"
        only = "" if number >= self.wanted else f" of the {self.wanted} asked for"
        yield f"{units}{only} can be ready by {self._day(view.by)} (of the kind {self.kind})."
        if number:
            yield (
                f"After the work below nothing is due on them, no recheck either, until {self._day(view.through)}:"
                f" a loan of {loan_words(view.loans)}."
            )
        yield from cautions_hint(view.cautioned)

    def below(self) -> Iterator[str]:
        """Yield whether bench days and drawer allow it, what it pushes past its day, and why not more."""
        view, openings = self.view, self.view.openings
        if openings:
            taken, room = sum(opening.minutes for opening in openings), view.days * view.bench.minutes
            days = "1 bench day" if view.days == 1 else f"{view.days} bench days"
            yield f"{taken} of {room} minutes on the {days} before {self._day(view.by)}."
            lacks = any(take.short for takes in view.takes.values() for take in takes)
            buys = "The drawer lacks what is said above; what to buy: spindlebook reorder"
            yield buys if lacks else "The drawer has all that this takes."
        for what, lines in (
            ("comes later for it", [f"{each.tag}, {self._late(each)}" for each in view.pushed]),
            ("not by then", [f"{tag}, {why}" for tag, why in self._why_not_more()]),
        ):
            yield from (f"{what}: {line}" for line in lines[:_MOST_LINES])
            if len(lines) > _MOST_LINES:
                yield f"{what}: {len(lines) - _MOST_LINES} more"
        if openings:
            yield from basis_words(openings, view.work, view.drawer)

    def _why_not_more(self) -> Sequence[tuple[str, str]]:
        return self.view.not_by if len(self.view.lent.chosen) < self.wanted else ()

    def _late(self, opening: Opening) -> str:
        return f"{bench_day(opening.on, self.form)}, {late_words(opening)}"

    def _row(self, chosen: Chosen) -> dict[str, Any]:
        unit, opening = chosen.candidate.unit, chosen.opening
        facts, takes = self.view.work.of_unit[unit.unit_id], self.view.takes.get(unit.unit_id, ())
        works = opening.works if opening else ()
        return {
            "tag": unit.tag,
            "model": self.view.work.shown[unit.unit_id].model,
            "standing": facts.standing or None,
            "ready": lend_words(chosen, facts, self.form),
            "day": opening.on if opening else None,
            "minutes": opening.minutes if opening else 0,
            "procedures": [work.procedure for work in works],
            "why": [reason for work in works for reason in work.reasons],
            "takes": [self._say(each, each.steps) for each in takes],
            "short": [short_words(each, self._say) for each in takes if each.short],
            "next_due": next_due(unit, self.view.through),
            "note": lend_note(chosen, facts, self.view.bench.minutes, takes, self._say) or None,
        }

    def _say(self, take: Take, steps: int) -> str:
        return say_amount(self.view.drawer.supplies, take, steps)

    def _day(self, day: date) -> str:
        return show_day(day.isoformat(), self.form)
