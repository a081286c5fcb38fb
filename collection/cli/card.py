"""The card of a unit, for a person and for a program."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

from collection.analysis.lubricants import CLEANED
from collection.cli.card_more import (
    SCREWS,
    borrowed_and_reserved,
    coming_and_pictures,
    custody_object,
    left_and_damaged,
    one_arrival,
    screw_object,
    screw_row,
    seen_and_checked,
)
from collection.cli.due import day_columns, item_rows, one_a_line
from collection.cli.service_show import lubed_object
from collection.cli.show import Column, emit, say, say_pairs
from collection.errors import typed
from collection.quantity import show_day
from collection.views.card import Card
from collection.views.findings import Judged, show_range, show_result
from collection.views.mechanisms import Sits

_SHOWN_SERVICES = 5
_IN_WORDS = (
    "condition", "marks", "drive_number", "jumpers", "rom", "modifications", "accessories", "box", "note",
)  # fmt: skip
_PLURALS = {"supply unit": "drives it feeds"}


def show_card(card: Card, today: date, form: str) -> None:
    """Print the card: what the unit is, then a table for each question that has an answer."""

    def day(text: str) -> str:
        return show_day(text, form) if text else ""

    say(f"{card.unit.tag}  {_model(card)}", bold=True)
    say_pairs(_about(card, day))
    _section(
        "due", list(one_a_line(item_rows(card.due, today))), [Column("procedure"), *day_columns(form), Column("why")]
    )
    _section("last readings", [_reading(one, day) for one in card.readings], _READING)
    _section("fitted parts", [_part(part._asdict(), card.unit.tag, day) for part in card.parts], _PART)
    _section("lubricants", list(_lubricants(card, day)), _LUBRICANT)
    _section("screws", [screw_row(screw, day) for screw in card.screws], SCREWS)
    _section("wanted parts", [row._asdict() | {"wanted_on": day(row.wanted_on)} for row in card.wanted], _WANTED)
    _section("faults", [_fault(row._asdict(), day) for row in card.faults], _FAULT)
    services = [_service(row._asdict(), day) for row in card.services]
    _section("services", services[:_SHOWN_SERVICES], _SERVICE)
    if len(services) > _SHOWN_SERVICES:
        say(f"and {len(services) - _SHOWN_SERVICES} earlier: spindlebook unit show {typed(card.unit.tag)} --json")
    _section("doubts", [row._asdict() | {"day": day(row.day)} for row in card.doubts], _DOUBT)
    if not card.services and not card.readings:
        say("", f"no history yet; spindlebook service record {typed(card.unit.tag)} gives it one")
    if card.never_recorded:
        say("")
        say_pairs([("never recorded", ", ".join(card.never_recorded))])


def _section(title: str, rows: Sequence[dict[str, Any]], columns: Sequence[Column]) -> None:
    if rows:
        say("")
        say(title.capitalize(), bold=True)
        emit(rows, columns)


def _model(card: Card) -> str:
    return f"{card.unit.maker} {card.unit.model}".strip()


def _about(card: Card, day: Callable[[str], str]) -> Iterator[tuple[str, str]]:
    unit, details = card.unit, card.details
    speeds = unit.nominal_speeds and f"{unit.nominal_speeds} r/min"
    state = details["serial_state"]
    yield "kind", _joined(unit.kind, unit.drive_type, speeds)
    yield "serial", " ".join(part for part in (unit.serial, f"({state})" if state else "") if part)
    yield "aliases", ", ".join(card.aliases)
    yield "owner", unit.owner or "not known"
    yield "location", unit.location or "not known"
    yield "standing", _since(unit.standing, day(unit.standing_from)) or "not known"
    if unit.loan is not None:
        yield "loan", f"{unit.loan.name} to {unit.loan.person} until {day(unit.loan.due_on)}"
    yield from borrowed_and_reserved(card, day)
    yield "worth", _worth(card, day)
    yield _PLURALS.get(unit.kind, "supply unit"), ", ".join(card.paired_with)
    yield "acquired", _acquired(card, day)
    yield "title", details["title_evidence"]
    yield from coming_and_pictures(card, day)
    yield from seen_and_checked(card, day)
    yield from left_and_damaged(card, day)
    yield "mechanism", _mechanism(card.mechanism, day)
    yield "left on it", ", ".join(card.left) or ("nothing" if unit.standing == "donor" else "")
    for name in _IN_WORDS:
        yield name.replace("_", " "), details[name]


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _since(what: str, day: str) -> str:
    return f"{what} since {day}" if what and day else what


def _worth(card: Card, day: Callable[[str], str]) -> str:
    worth = card.worth
    if worth is None:
        return "not valued, and its model has no replacement value"
    by = worth.by and f"by {worth.by}"
    return f"{worth.amount.text} {worth.amount.currency} ({_joined(worth.basis, day(worth.valued_on), by)})"


def _acquired(card: Card, day: Callable[[str], str]) -> str:
    source, how = card.details["acquired_from"], card.details["acquired_how"]
    return _joined(day(card.unit.acquired_on), how, source and f"from {source}", card.details["price"])


def _mechanism(sits: Sits | None, day: Callable[[str], str]) -> str:
    """Say which mechanism is in the unit, and where the boundary of its history lies."""
    if sits is None:
        return ""
    went = f"went to {sits.gone_to} on" if sits.gone_to else "lies loose since"
    own = sits.gone_on and f"its own {went} {day(sits.gone_on)}"
    if not sits.name:
        return own or "none in it"
    name = sits.name.removeprefix("mechanism ")
    fitted = f"{name}, fitted {day(sits.since)}" if sits.since else name
    read_in = sits.read_in and f"what it read in {', '.join(sits.read_in)} before is shown here"
    return "; ".join(part for part in (fitted, read_in, own) if part)


def _reading(one: Judged, day: Callable[[str], str]) -> dict[str, Any]:
    last = one.last
    return {
        "measurement": f"{one.measurement.name} {last.point}".rstrip(),
        "taken_on": day(last.taken_on),
        "stage": last.stage,
        "value": show_result(one),
        "says": _joined(one.verdict, show_range(one.limit)),
        "instrument": last.instrument,
    }


def _part(part: dict[str, str], tag: str, day: Callable[[str], str]) -> dict[str, str]:
    lot = part["lot"] and f"lot {part['lot']}"
    donor = part["donor"] and ("its own" if part["donor"] == tag else f"unit {part['donor']}")
    return part | {"fitted_on": day(part["fitted_on"]), "from": _joined(part["supply"], lot, donor)}


def _lubricants(card: Card, day: Callable[[str], str]) -> Iterator[dict[str, str]]:
    """Yield what is on each point, then what was used on no point that is known."""
    amounts = {row.supply: row.amount for row in card.lubricants}
    for on in card.points:
        old = CLEANED if on.cleaned_first else ""
        used = amounts.get(on.put.supply, "")
        yield {"point": on.point, "supply": on.put.supply, "since": day(on.since), "old": old, "amount": used}
    for row in card.lubricants:
        if row.supply not in card.placed:
            yield {"supply": row.supply, "since": day(row.used_on), "amount": row.amount}


def _fault(fault: dict[str, Any], day: Callable[[str], str]) -> dict[str, Any]:
    cause = fault["cause"] or ("no fault found" if fault["no_fault_found"] else "")
    closed = day(fault["closed_on"]) or "open"
    return fault | {"noticed_on": day(fault["noticed_on"]), "closed_on": closed, "cause": cause}


def _service(service: dict[str, Any], day: Callable[[str], str]) -> dict[str, Any]:
    closed = day(service["closed_on"]) or _joined("open", service["next"] and f"next: {service['next']}")
    return service | {"opened_on": day(service["opened_on"]), "closed_on": closed}


def card_object(card: Card, today: date) -> dict[str, Any]:
    """Return the card as one JSON object; what is empty is null or an empty list."""
    unit, worth, loan = card.unit, card.worth, card.unit.loan
    return {
        "tag": unit.tag,
        "aliases": card.aliases,
        "kind": unit.kind,
        "model": unit.model,
        "maker": unit.maker or None,
        "drive_type": unit.drive_type or None,
        "nominal_speed": unit.nominal_speeds or None,
        "serial": unit.serial or None,
        "owner": unit.owner or None,
        "location": unit.location or None,
        "standing": unit.standing or None,
        "standing_from": unit.standing_from or None,
        "loan": loan and {"loan": loan.name, "person": loan.person, "out_on": loan.out_on, "due_on": loan.due_on},
        "worth": worth and _filled(_worth_object(worth._asdict())),
        "acquired_on": unit.acquired_on or None,
        **_filled(card.details),
        "paired_with": card.paired_with,
        "parts": [_filled(part._asdict()) for part in card.parts],
        "lubricants": [row._asdict() for row in card.lubricants],
        "readings": [_reading_object(one) for one in card.readings],
        "wanted": [{key: getattr(row, key) or None for key in _WANTED_KEYS} for row in card.wanted],
        "faults": [_filled(fault._asdict()) for fault in card.faults],
        "services": [_filled(service._asdict()) for service in card.services],
        "due": item_rows(card.due, today),
        "doubts": [_filled(mark._asdict()) for mark in card.doubts],
        "never_recorded": card.never_recorded,
        "mechanism": card.mechanism and _filled(card.mechanism._asdict()),
        "left": card.left,
        "lubricant_points": [lubed_object(on) for on in card.points],
        "arrivals": [one_arrival(arrival) for arrival in card.arrivals],
        "screws": [screw_object(screw) for screw in card.screws],
        "photos": card.photos,
        **custody_object(card),
    }


def _filled(row: dict[str, Any]) -> dict[str, Any]:
    return {key: None if value == "" else value for key, value in row.items()}


def _worth_object(worth: dict[str, Any]) -> dict[str, Any]:
    return worth | {"amount": worth["amount"].text, "currency": worth["amount"].currency}


def _reading_object(one: Judged) -> dict[str, Any]:
    last, limit = one.last, one.limit
    return {
        "measurement": one.measurement.name,
        "point": last.point or None,
        "taken_on": last.taken_on,
        "stage": last.stage,
        "value": last.grade if last.value is None else last.value,
        "measured_in": one.measurement.measured_in,
        "lower": limit and limit.lower,
        "upper": limit and limit.upper,
        "says": one.verdict,
        "instrument": last.instrument,
    }


_READING = (
    Column("measurement"),
    Column("taken_on", "day"),
    Column("stage"),
    Column("value", "reading"),
    Column("says", "limit"),
    Column("instrument"),
)
_PART = (Column("part"), Column("fitted_on"), Column("from"), Column("age"))
_LUBRICANT = (
    Column("point"),
    Column("supply", "lubricant"),
    Column("since"),
    Column("old", "old one"),
    Column("amount", "last used"),
)
_WANTED = (Column("part"), Column("supply"), Column("pieces"), Column("wanted_on", "since"), Column("note"))
_WANTED_KEYS = tuple(column.key for column in _WANTED)
_FAULT = (
    Column("noticed_on", "noticed"),
    Column("closed_on", "closed"),
    Column("symptom"),
    Column("cause"),
    Column("cure"),
)
_SERVICE = (
    Column("opened_on", "opened"),
    Column("closed_on", "closed"),
    Column("procedures"),
    Column("outcome"),
    Column("findings"),
)
_DOUBT = (Column("record"), Column("day"), Column("field"), Column("value"), Column("rule", "doubt"))
