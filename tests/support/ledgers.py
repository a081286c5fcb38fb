"""Random ledgers that keep every rule, and a slow second way to read them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from hypothesis import strategies as st

from collection.analysis.ledger import Cell, Movement, balances, in_order, known

LAST_DAY = 8
PLACES = (None, 1, 2)
LOTS = {1: (11, 12, None), 2: (21, None)}
SIGNS = {"use": -1, "discard": -1, "return": -1, "receive": 1, "count": 1, "open": 0, "short": 1}


class Wish(NamedTuple):
    """What a person would like to book next; a wish that the rules forbid at that point is passed over."""

    kind: str
    day: int
    supply: int
    lot: int  # index
    place: int  # index
    amount: int
    pick: int  # which earlier row, for a reverse


wishes = st.builds(
    Wish,
    kind=st.sampled_from([*SIGNS, "count", "use", "move", "repack", "reverse", "reverse"]),
    day=st.integers(1, LAST_DAY),
    supply=st.integers(1, 2),
    lot=st.integers(0, 2),
    place=st.integers(0, 2),
    amount=st.integers(0, 9),
    pick=st.integers(0, 30),
)


def day_text(day: int) -> str:
    """Return the ISO text of a day of the test month."""
    return f"2026-01-{day:02}"


def stamp(number: int) -> str:
    """Return the UTC text at which the row of that id was recorded."""
    return f"2026-02-01T00:00:{number:02}Z"


def row(number: int, kind: str, steps: int, day: int, **fields: object) -> Movement:
    """Return a movement of supply 1, lot 11, place 1 unless told otherwise."""
    usual = Movement(number, 1, 11, 1, kind, steps, day_text(day), stamp(number), reason="spilt")
    return usual._replace(**fields)  # type: ignore[arg-type]


class Ledger:
    """Books wishes one after the other, each row recorded a second after the one before."""

    def __init__(self) -> None:
        self.rows: list[Movement] = []
        self._new_lot = 100

    def book(self, wish: Wish) -> None:
        """Add the rows of a wish, or none if the rules forbid it now."""
        lots = LOTS[wish.supply]
        lot, place = lots[wish.lot % len(lots)], PLACES[wish.place]
        if wish.kind == "reverse":
            self._reverse(wish.pick)
        elif wish.kind in ("move", "repack"):
            self._pair(wish, lot, place)
        elif self._may(wish.kind, lot):
            self._add(wish.kind, SIGNS[wish.kind] * wish.amount, wish, lot, place)

    def _add(self, kind: str, steps: int, wish: Wish, lot: int | None, place: int | None) -> None:
        number = len(self.rows) + 1
        group = f"g{number - (kind in ('move', 'repack') and steps > 0)}"
        made = row(number, kind, steps, wish.day, supply=wish.supply, lot=lot, place=place, group=group)
        self.rows.append(made)

    def standing(self) -> list[Movement]:
        """Return the rows that count: no reverse, and not taken back."""
        dead = {each.reverses for each in self.rows if each.kind == "reverse"}
        return [each for each in self.rows if each.kind != "reverse" and each.id not in dead]

    def _may(self, kind: str, lot: int | None) -> bool:
        if kind not in ("receive", "open", "return"):
            return True
        seen = [each.kind for each in self.standing() if each.lot == lot]
        return lot is not None and (("receive" in seen) if kind == "return" else kind not in seen)

    def _pair(self, wish: Wish, lot: int | None, place: int | None) -> None:
        if wish.amount == 0 or (lot is None and wish.kind == "repack"):
            return
        self._add(wish.kind, -wish.amount, wish, lot, place)
        if wish.kind == "move":
            self._add("move", wish.amount, wish, lot, PLACES[(wish.place + 1) % 3])
        else:
            self._new_lot += 1
            self._add("repack", wish.amount, wish, self._new_lot, place)

    def _reverse(self, pick: int) -> None:
        free = [each for each in self.standing() if self._reversible(each)]
        if not free:
            return
        target = free[pick % len(free)]
        paired = target.kind in ("move", "repack")
        for each in [one for one in free if one.group == target.group] if paired else [target]:
            self.reverse(each)

    def reverse(self, target: Movement) -> None:
        """Add the exact opposite of a row."""
        number = len(self.rows) + 1
        back = target._replace(
            id=number, kind="reverse", steps=-target.steps, recorded_at=stamp(number), reverses=target.id
        )
        self.rows.append(back)

    def _reversible(self, target: Movement) -> bool:
        beside = [each for each in self.standing() if each.lot == target.lot]
        if target.kind == "receive":
            return all(each.kind != "return" for each in beside)
        place = (target.occurred_on, target.id)
        same_cell = [each for each in beside if each[1:4] == target[1:4] and each.kind not in ("open", "short")]
        return target.kind != "count" or all((each.occurred_on, each.id) <= place for each in same_cell)


def _booked(plan: Iterable[Wish]) -> list[Movement]:
    ledger = Ledger()
    for wish in plan:
        ledger.book(wish)
    return ledger.rows


ledgers = st.lists(wishes, max_size=16).map(_booked)


def balance(rows: Iterable[Movement], on_day: str | None = None, known_at: str | None = None) -> dict[Cell, int]:
    """Return the stock per cell at the end of `on_day`, as known at `known_at`, of rows in any order."""
    return balances(in_order(known(rows, on_day, known_at)))


def slow_balance(rows: Sequence[Movement], day: int = LAST_DAY) -> dict[Cell, int]:
    """Return the stock per cell by its definition: the last count, plus the signed rows after it."""
    gone = {each.reverses for each in rows if each.kind == "reverse"}
    stock = {}
    for cell in {each[1:4] for each in rows}:
        listed = [
            (each.occurred_on, each.id, each.kind, each.steps)
            for each in rows
            if each[1:4] == cell and each.id not in gone and each.kind not in ("open", "short", "reverse")
        ]
        listed = sorted(each for each in listed if each[0] <= day_text(day))
        counts = [index for index, each in enumerate(listed) if each[2] == "count"]
        if listed:
            stock[cell] = sum(each[3] for each in listed[counts[-1] if counts else 0 :])
    return stock


def per_lot(stock: Mapping[Cell, int]) -> dict[tuple[int, int | None], int]:
    """Return the steps per supply and lot, summed over places."""
    totals: defaultdict[tuple[int, int | None], int] = defaultdict(int)
    for (supply, lot, _place), steps in stock.items():
        totals[supply, lot] += steps
    return dict(totals)
