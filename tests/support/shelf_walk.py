"""A walk through the days of one path, lot by lot: what the closed form of the projection must agree with."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class WalkedLot:
    """A lot: what is left of it, from when and until when it may be used, and how long it keeps once open."""

    left: float
    comes: int
    through: int
    open_days: int | None = None
    opened: bool = False


@dataclass(frozen=True)
class Walked:
    """What happened: the first day with an unmet use (None: none), and what was on hand at the end of each day.

    unmet: the days whose uses were not met in full by the end of the day. left: of each lot, at the end.
    """

    first: int | None
    unmet: tuple[int, ...]
    on_hand: tuple[float, ...]
    left: tuple[float, ...]


def walk(uses: list[float], lots: list[WalkedLot]) -> Walked:
    """Meet each day's uses from the lots in their order; what cannot be met waits in front of later uses."""
    waiting, unmet, on_hand = 0.0, [], []
    for day, use in enumerate(uses):
        waiting += use
        for lot in lots:
            if lot.comes <= day <= lot.through and lot.left > 0 and waiting > 0:
                if not lot.opened and lot.open_days is not None:
                    lot.opened, lot.through = True, min(lot.through, day + lot.open_days)
                taken = min(waiting, lot.left)
                lot.left -= taken
                waiting -= taken
        if waiting > 0:
            unmet.append(day)
        on_hand.append(sum(lot.left for lot in lots if lot.comes <= day <= lot.through))
    first = next((day for day in unmet if uses[day] > 0), None)
    return Walked(first, tuple(unmet), tuple(on_hand), tuple(lot.left for lot in lots))
