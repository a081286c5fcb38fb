"""The rows of what the club's keepers note of units, by the keys under which programs are told them.

As in `list_rows`: days are ISO text, money is exact text; None is not known.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collection.views.condition_checks import CheckReading, ConditionCheck
    from collection.views.damage import Damage
    from collection.views.entries import Entry
    from collection.views.exits import Exit
    from collection.views.loans import LoanRow
    from collection.views.reservations import Reservation

DAMAGE_KEYS = (
    "damage", "tag", "kind", "found_on", "what", "circumstances", "reported_on", "reported_by", "by", "loan",
    "estimate", "currency", "owner_told_on", "insurer_told_on", "policy", "claim", "actions", "settled_on", "settled",
    "closed_on", "outcome",
)  # fmt: skip
EXIT_KEYS = (
    "tag", "model", "left_on", "how", "reason", "to", "authority", "price", "currency", "receipt_on", "note",
)  # fmt: skip
ENTRY_KEYS = (
    "entry_number", "tag", "model", "arrived_on", "from", "reason", "return_by", "days_over", "receipt_on",
)  # fmt: skip
LOAN_KEYS = (
    "loan", "direction", "tag", "person", "out_on", "due_on", "back_on", "days_over", "along", "purpose", "deposit",
    "currency", "condition_out", "condition_back", "along_missing", "cover", "agreement", "issued_by", "taken_by",
    "deposit_back_on", "deposit_back", "unsafe",
)  # fmt: skip


def condition_row(made: ConditionCheck) -> dict[str, Any]:
    """Return the row of a condition check, with the numbers of its pictures among those of the unit."""
    return {
        "tag": made.tag,
        "checked_on": made.checked_on,
        "occasion": made.occasion,
        "grade": made.grade or None,
        "condition": made.condition,
        "by": made.by or None,
        "loan": made.loan or None,
        "readings": [reading_words(one) for one in made.readings],
        "photos": [number for number, _ in made.photos],
    }


def reading_words(one: CheckReading) -> str:
    """Return a reading of a check in the form in which one is typed."""
    from collection.views.findings import show_value

    result = one.grade if one.value is None else f"{show_value(one.value)} {one.measured_in}"
    return f"{one.measurement}{f'[{one.point}]' if one.point else ''}={result} @{one.instrument}"


def damage_row(damage: Damage) -> dict[str, Any]:
    """Return the row of a damage or loss."""
    money = damage.estimate or damage.settled
    values: dict[str, Any] = {
        "damage": damage.name,
        "outcome": damage.closed_how or None,
        "estimate": damage.estimate and damage.estimate.text,
        "settled": damage.settled and damage.settled.text,
        "currency": money and money.currency,
    }
    return {key: values[key] if key in values else getattr(damage, key) or None for key in DAMAGE_KEYS}


def exit_row(each: Exit) -> dict[str, Any]:
    """Return the row of a unit that left for good."""
    money = {"price": each.price and each.price.text, "currency": each.price and each.price.currency}
    return {key: money.get(key, getattr(each, key, None)) or None for key in EXIT_KEYS}


def entry_row(row: Entry) -> dict[str, Any]:
    """Return the row of a unit that came in."""
    values: dict[str, Any] = {
        "model": row.unit.model,
        "from": row.sender.name if row.sender else None,
        "days_over": row.days_over,
    }
    return {key: values[key] if key in values else getattr(row, key) or None for key in ENTRY_KEYS}


def reservation_row(row: Reservation, today: date) -> dict[str, Any]:
    """Return the row of a unit that is kept, or was, with how that stands today."""
    return {
        "tag": row.tag,
        "person": row.person,
        "from_date": row.from_date,
        "to_date": row.to_date,
        "state": row.state(today),
        "loan": row.loan or None,
        "purpose": row.purpose or None,
        "closed_on": row.closed_on or None,
        "reason": row.closed_reason or None,
    }


def loan_row(row: LoanRow, unsafe: str = "") -> dict[str, Any]:
    """Return the row of one unit of a loan, lent or borrowed; the sums are of the whole loan.

    unsafe: what its electrical safety has against its being out, "" for nothing, or where it was lent all the same.
    """
    money = row.deposit or row.deposit_back
    values: dict[str, Any] = {
        "days_over": row.days_over,
        "deposit": row.deposit and row.deposit.text,
        "currency": money and money.currency,
        "deposit_back": row.deposit_back and row.deposit_back.text,
        "unsafe": unsafe or None,
    }
    return {key: values[key] if key in values else getattr(row, key) or None for key in LOAN_KEYS}
