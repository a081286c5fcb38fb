"""What the invented club has noted and no folder of CSV files holds: checks, a damage, a reservation.

The people are those of the demo's folder; they and all they found are made up. Not every mains unit was checked: the
demo shows what lends, what has lapsed, and what nobody has looked at.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from sqlalchemy.engine import Engine

from collection.acts.condition_checks import GivenCheck, add_check
from collection.acts.damage import GivenDamage, add_damage
from collection.acts.reservations import reserve
from collection.acts.safety_checks import add_safety_check

_KEEPER, _ISSUER, _BORROWER = "Orla Penhaddock", "Tobin Marrask", "Halverby School Workshop"
_SHEET = "test sheet of the club (invented)"
# Tag, days since the check, days for which it is still good: the last one has lapsed.
_SAFE = (("P1", 33, 332), ("P2", 60, 305), ("P3", 420, -55))
_LOOKED_AT = ("D9", 21, "two scratches on the lid, door closes", "pass")
_BROKEN = ("D2", 255)  # the day on which the club's second loan came back
_RESERVED = ("D12", 62, 69)


def note_what_no_folder_holds(engine: Engine, *, today: date, now: datetime) -> None:
    """Write what the invented club noted of its units, one act each, with days counted from today."""

    def day(days: int) -> str:
        return (today + timedelta(days=days)).isoformat()

    for tag, ago, ahead in _SAFE:
        on, through = day(-ago), day(ahead)
        add_safety_check(
            engine, tag, "pass", by=_KEEPER, on=on, rule=_SHEET, good_through=through, today=today, now=now
        )
    tag, ago, condition, grade = _LOOKED_AT
    looked_at = GivenCheck("inventory", condition, grade, by=_KEEPER)
    add_check(engine, tag, looked_at, on=day(-ago), today=today, now=now)
    tag, ago = _BROKEN
    add_damage(engine, tag, _broken(day(-ago)), on=day(-ago), today=today, now=now)
    tag, first, last = _RESERVED
    span = {"first": day(first), "last": day(last)}
    reserve(engine, [tag], to=_BORROWER, **span, purpose="open day of the school", today=today, now=now)


def _broken(on: str) -> GivenDamage:
    """Return the damage that came back with a loan and waits for an answer. on: the day on which it came back."""
    return GivenDamage(
        "damage",
        "bezel cracked at the lower left",
        circumstances="seen when the school brought it back; nobody knows when it happened",
        reported_on=on,
        reported_by=_ISSUER,
        by=_ISSUER,
        estimate="18 EUR",
        condition="bezel cracked at the lower left, door closes",
        grade="marginal",
    )
