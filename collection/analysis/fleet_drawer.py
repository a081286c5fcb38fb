"""What the invented club's services took out of the drawer: first to expire first, never more than is left.

Days are whole numbers counted from today, amounts whole steps of their supply.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from collection.analysis.fleet_dice import Dice, day_text, days_from_today
from collection.analysis.fleet_visits import Row, Visit
from collection.analysis.take_order import Lot, take
from collection.quantity import from_steps, parse_number, show_number, to_steps

REST = "rest"  # a quantity of the demo's uses.csv: all that the book says is left
USE_COLUMNS = (
    "supply", "lot", "quantity", "used_on", "service", "tag", "procedure", "basis", "planned", "what",
    "reason",
)  # fmt: skip
COUNT_COLUMNS = ("supply", "lot", "counted_on", "quantity")

_COUNT_DAYS = (-705, -345, -16)
_DAYS_A_MONTH = 30  # shorter than any calendar month on average: nothing is used past its last day
_NEVER = 4000  # days
_BY_PORTION = ("solvent", "lubricant")  # poured out or squeezed, so the amount taken is measured now and then


class _Wish(NamedTuple):
    """So much of a supply is wanted by a service on a day."""

    day: int
    supply: str
    steps: int
    basis: str
    visit: Visit
    service: str
    procedure: str


@dataclass(slots=True)
class _Lot:
    """A lot as the drawer holds it; opened: day or None."""

    row: Row
    received: int
    steps: int
    expires: int
    opened: int | None = None


class Drawer:
    """The lots of the demo, and what was taken from them, kept in rows of uses.csv and counts.csv.

    taken_from: for each service and supply the lots it took from.
    """

    def __init__(self, demo: Mapping[str, Sequence[Row]], dice: Dice) -> None:
        self.dice = dice
        self.supplies = {row["supply"]: row for row in demo["supplies.csv"]}
        self.amounts = demo["amounts.csv"]
        self.given = demo["uses.csv"]
        self.lots = [self._lot(row) for row in demo["lots.csv"]]
        self.uses: list[Row] = []
        self.counts: list[Row] = []
        self.taken_from: dict[tuple[str, str], list[str]] = {}

    def run(self, services: Sequence[tuple[str, Visit, str]]) -> None:
        """Play all days in order; services are (name, visit, model of the unit), oldest first."""
        wishes = [wish for name, visit, model in services for wish in self._wishes(name, visit, model)]
        busy = {wish.day for wish in wishes} | {days_from_today(row["used_on"]) for row in self.given}
        counts = [next(day for day in range(start, 0) if day not in busy) for start in _COUNT_DAYS]
        todo: list[tuple[int, int, _Wish | Row | None]] = [(wish.day, 1, wish) for wish in wishes]
        todo += [(days_from_today(row["used_on"]), 0, row) for row in self.given]
        todo += [(day, 2, None) for day in counts]
        for day, _, what in sorted(todo, key=lambda item: item[:2]):
            if what is None:
                self._count(day)
            elif isinstance(what, _Wish):
                self._take(what)
            else:
                self._as_given(what, day)

    def lot_rows(self) -> list[Row]:
        """Return the rows of lots.csv with the day each lot was opened."""
        return [{**lot.row, "opened_on": "" if lot.opened is None else day_text(lot.opened)} for lot in self.lots]

    # --- what is wanted

    def _wishes(self, service: str, visit: Visit, model: str) -> Iterator[_Wish]:
        for procedure in visit.procedures:
            for row in self.amounts:
                if row["procedure"] == procedure and self._fits(row["supply"], model):
                    yield from self._wish(row, visit, service)
        extra = visit.special.get("supply")
        if extra:
            yield _Wish(visit.opened, extra, 1, "count", visit, service, visit.procedures[0])

    def _fits(self, supply: str, model: str) -> bool:
        fits = [name.strip() for name in self.supplies[supply]["fits"].split(";") if name.strip()]
        return not fits or model in fits

    def _wish(self, row: Row, visit: Visit, service: str) -> Iterator[_Wish]:
        """Yield what one amount of a sheet comes to: the sheet's figure, or what was really taken."""
        supply = self.supplies[row["supply"]]
        if supply["tracked"] == "no" or not self.dice.chance(float(row["chance"] or 1)):
            return
        steps, basis = self._steps(row["supply"], row["quantity"]), "sheet"
        if supply["kind"] in _BY_PORTION and self.dice.chance(0.5):
            steps, basis = max(1, round(steps * max(0.4, self.dice.normal(1.1, 0.3)))), "measured"
        elif supply["kind"] == "swab" and self.dice.chance(0.3):
            steps, basis = steps + self.dice.whole(0, 2), "count"
        yield _Wish(visit.opened, row["supply"], steps, basis, visit, service, row["procedure"])

    # --- what happens to the lots

    def _take(self, wish: _Wish) -> None:
        if self.supplies[wish.supply]["tracked"] == "pack":
            self._open_pack(wish)
            return
        facts = [self._facts(number, lot) for number, lot in enumerate(self.lots) if self._there(lot, wish)]
        taken, short = take(facts, wish.steps, _calendar(wish.day))
        for part in taken:
            lot = self.lots[part.lot or 0]
            lot.steps -= part.steps
            self._opened(lot, wish.day)
            self.taken_from.setdefault((wish.service, wish.supply), []).append(lot.row["lot"])
            self._use(wish, lot.row["lot"], part.steps, "", "")
        if short:
            self._use(wish, "", short, "short", "none left on the shelf")

    def _there(self, lot: _Lot, wish: _Wish) -> bool:
        return lot.row["supply"] == wish.supply and lot.received <= wish.day

    def _open_pack(self, wish: _Wish) -> None:
        """Open a pack of what is tracked by the pack, at its first use."""
        for lot in self.lots:
            if self._there(lot, wish) and lot.opened is None:
                lot.opened = wish.day
                return

    def _opened(self, lot: _Lot, day: int) -> None:
        """Note when a lot with an open life was opened."""
        months = self.supplies[lot.row["supply"]]["open_life_months"]
        if months and lot.opened is None:
            lot.opened = day
            lot.expires = min(lot.expires, day + int(months) * _DAYS_A_MONTH)

    def _as_given(self, row: Row, day: int) -> None:
        """Book a row of the demo's own uses.csv: a discard, a return, or what could not be had."""
        given = dict(row)
        for lot in self.lots:
            if lot.row["supply"] == row["supply"] and lot.row["lot"] == row["lot"]:
                steps = lot.steps if row["quantity"] == REST else self._steps(row["supply"], row["quantity"])
                lot.steps -= steps
                given["quantity"] = self._show(row["supply"], steps)
                self._opened(lot, day)
        self.uses.append(given)

    def _count(self, day: int) -> None:
        """Count the shelf: pieces are as booked, opened solvent has dried a little."""
        for lot in self.lots:
            supply = lot.row["supply"]
            if lot.received >= day or lot.steps == 0 or self.supplies[supply]["tracked"] != "count":
                continue
            if self.supplies[supply]["kind"] == "solvent" and lot.opened is not None:
                lot.steps -= lot.steps * 3 // 100
            counted = self._show(supply, lot.steps)
            values = (supply, lot.row["lot"], day_text(day), counted)
            self.counts.append(dict(zip(COUNT_COLUMNS, values, strict=True)))

    # --- rows

    def _use(self, wish: _Wish, lot: str, steps: int, what: str, reason: str) -> None:
        values = (
            wish.supply,
            lot,
            self._show(wish.supply, steps),
            day_text(wish.day),
            wish.service,
            wish.visit.tag,
            wish.procedure,
            wish.basis,
            "no" if wish.visit.special else "yes",
            what,
            reason,
        )
        self.uses.append(dict(zip(USE_COLUMNS, values, strict=True)))

    def _steps(self, supply: str, quantity: str) -> int:
        row = self.supplies[supply]
        step = parse_number(row["smallest_step"])
        return to_steps(parse_number(quantity), row["measured_in"], row["measured_in"], step)

    def _show(self, supply: str, steps: int) -> str:
        return show_number(from_steps(steps, Decimal(self.supplies[supply]["smallest_step"])))

    def _lot(self, row: Row) -> _Lot:
        expires = days_from_today(row["expires_on"]) if row["expires_on"] else _NEVER
        steps = self._steps(row["supply"], row["quantity"])
        return _Lot(row, days_from_today(row["received_on"]), steps, expires)

    def _facts(self, number: int, lot: _Lot) -> Lot:
        opened = None if lot.opened is None else _calendar(lot.opened).isoformat()
        return Lot(number, lot.steps, _calendar(lot.expires), opened, _calendar(lot.received).isoformat())


def _calendar(day: int) -> date:
    """Return a date that keeps the distances between days; which date it is does not matter."""
    return date.fromordinal(date(2000, 1, 1).toordinal() + day)
