"""Parts of a unit's card: how it last came, its turned screws, its pictures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from collection.analysis.turns import show_net
from collection.cli.show import Column
from collection.errors import typed

if TYPE_CHECKING:
    from collection.views.adjustments import Screw
    from collection.views.arrivals import Arrival
    from collection.views.card import Card

SCREWS = (
    Column("screw"),
    Column("for"),
    Column("now", "net turns"),
    Column("times", "times turned"),
    Column("last_on", "last turned"),
)


def coming_and_pictures(card: Card, day: Callable[[str], str]) -> Iterator[tuple[str, str]]:
    """Yield label and text of the last arrival and of the pictures, where there are any."""
    if card.arrivals:
        yield "last arrival", _arrival(card.arrivals[0], day)
    if card.photos:
        yield "photos", f"{card.photos}: spindlebook photo list {typed(card.unit.tag)}"


def seen_and_checked(card: Card, day: Callable[[str], str]) -> Iterator[tuple[str, str]]:
    """Yield label and text of when it was last seen, and of its last condition check and electrical safety check."""
    if card.seen is not None:
        yield "last seen", f"{day(card.seen.day)} ({card.seen.what})"
    if card.checked is not None:
        told = (card.checked.grade, card.checked.condition, card.checked.by and f"by {card.checked.by}")
        yield (
            "last check",
            "; ".join([f"{day(card.checked.checked_on)} ({card.checked.occasion})", *filter(None, told)]),
        )
    if card.safety is not None:
        safety = card.safety
        found = safety.result and f"{safety.says or safety.result}: {day(safety.checked_on)}, by {safety.by}"
        until = safety.good_through and f"good through {day(safety.good_through)}"
        yield "mains safety", "; ".join(filter(None, (found or safety.says, until)))


def borrowed_and_reserved(card: Card, day: Callable[[str], str]) -> Iterator[tuple[str, str]]:
    """Yield label and text of the loan it is borrowed on, and of each span for which it is kept for somebody."""
    if card.borrowed is not None:
        loan = card.borrowed
        yield "borrowed", f"{loan.loan} from {loan.person} until {day(loan.due_on)}"
    for kept in card.reserved:
        yield "reserved", f"for {kept.person} from {day(kept.from_date)} to {day(kept.to_date)}"


def left_and_damaged(card: Card, day: Callable[[str], str]) -> Iterator[tuple[str, str]]:
    """Yield label and text of open damage and losses, of each time it left, and of its place in an emergency."""
    for damage in card.damage:
        if damage.still_open:
            yield damage.kind, f"{damage.name}, {day(damage.found_on)}: {damage.what}"
    for left in card.exits:
        price = f"for {left.price.text} {left.price.currency}" if left.price else ""
        how = " ".join(filter(None, (left.how, left.to and f"to {left.to}", price)))
        yield "left", f"{day(left.left_on)}, {how}: {left.reason}"
    rank = card.details["rescue_rank"]
    told = (rank and f"carried out as number {rank}", card.details["rescue_note"])
    yield "in an emergency", "; ".join(filter(None, told))


def custody_object(card: Card) -> dict[str, Any]:
    """Return what a unit is lent and kept for, and when it was last seen and checked, as a program reads it."""
    seen, checked, safety, borrowed = card.seen, card.checked, card.safety, card.borrowed
    names = ("checked_on", "occasion", "condition", "grade", "by")
    return {
        "borrowed": borrowed and {name: getattr(borrowed, name) for name in ("loan", "person", "out_on", "due_on")},
        "reserved": [
            {name: getattr(kept, name) for name in ("person", "from_date", "to_date")} for kept in card.reserved
        ],
        "damage": [each.name for each in card.damage],
        "exits": [
            {name: getattr(left, name) or None for name in ("left_on", "how", "reason", "to")} for left in card.exits
        ],
        "last_seen": seen and seen.day,
        "seen_by_what": seen and seen.what,
        "condition_check": checked and {name: getattr(checked, name) or None for name in names},
        "safety_check": safety and {key: value or None for key, value in safety._asdict().items() if key != "tag"},
    }


def screw_row(screw: Screw, day: Callable[[str], str]) -> dict[str, Any]:
    """Return where a screw stands, as a person reads it."""
    return {
        "screw": screw.screw,
        "for": screw.measurement,
        "now": show_net(screw.net),
        "times": screw.times,
        "last_on": day(screw.last_on),
    }


def screw_object(screw: Screw) -> dict[str, Any]:
    """Return where a screw stands, as a program reads it; net in turns, clockwise above zero."""
    return {
        "screw": screw.screw,
        "measurement": screw.measurement or None,
        "net": float(screw.net),
        "times": screw.times,
        "first_on": screw.first_on,
        "last_on": screw.last_on,
    }


def one_arrival(arrival: Arrival) -> dict[str, Any]:
    """Return an arrival as a program reads it."""
    values = {"from" if name == "sender" else name: value or None for name, value in arrival._asdict().items()}
    del values["id"], values["from_id"]
    return values


def _arrival(arrival: Arrival, day: Callable[[str], str]) -> str:
    told = (
        arrival.entry_number and f"entry {arrival.entry_number}",
        arrival.sender and f"from {arrival.sender}",
        arrival.reason and f"for {arrival.reason}",
        arrival.contents and f"in the box: {arrival.contents}",
        arrival.damage and f"damage: {arrival.damage}",
        arrival.mains_setting and f"mains setting {arrival.mains_setting}",
        arrival.fuse and f"fuse {arrival.fuse}",
        arrival.cord and f"cord {arrival.cord}",
        arrival.note,
        arrival.return_by and f"goes back by {day(arrival.return_by)}",
    )
    return "; ".join([day(arrival.arrived_on), *filter(None, told)])
