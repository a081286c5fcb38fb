"""What every column of the folder's form means: one parser per column."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from collection.acts.bring_in.parse import (
    Parser,
    above_zero,
    any_day,
    between,
    currency,
    exact,
    from_zero,
    listed,
    long,
    number,
    one_of,
    past_day,
    short,
    speed,
    unit_symbol,
    whole,
    yes_no,
)
from collection.analysis.measures import GRADED
from collection.analysis.procedures import ProcedureRule, parse_procedure
from collection.analysis.shelf_life import parse_made
from collection.errors import Refused, fold
from collection.quantity import parse_number
from collection.schema.columns import SHORT
from collection.schema.equipment import DRIVE_TYPES, ENTRY_KINDS, SERIAL_STATES, STANDINGS
from collection.schema.measurement import GRADES, STAGES
from collection.schema.people import DIRECTIONS, ROLES
from collection.schema.supplies import BASES, TRACKED

if TYPE_CHECKING:
    from collection.acts.bring_in.state import State

STANDING_WORDS = one_of(STANDINGS)
WHAT_USED = ("use", "discard", "return", "short")


def _tag(text: str, state: State) -> int:
    return state.units.need(text)


def _named(table: str) -> Parser:
    return lambda text, state: state.names(table).need(text)


def _several(table: str) -> Parser:
    def parse(text: str, state: State) -> tuple[int, ...]:
        return tuple(state.names(table).need(part) for part in text.split(";") if part.strip())

    return parse


def _person(role: str, *, doubtful: bool = True) -> Parser:
    def parse(text: str, state: State) -> int:
        return state.person(short(text, state), role=role, doubtful=doubtful)

    return parse


def _location(text: str, state: State) -> int:
    return state.location(short(text, state))


def _measured_in(text: str, state: State) -> str:
    return GRADED if fold(text) == GRADED else unit_symbol(text, state)


def _amount(text: str, state: State) -> str:
    """A sum or quantity from zero on, as text: what it means takes a currency or a supply besides."""
    plain = state.with_point(text).strip()
    if parse_number(plain) < 0:
        raise Refused("must not be below zero")
    return plain


def _made(text: str, state: State) -> str:
    parse_made(text)
    return short(text, state)


def _result(text: str, state: State) -> float | str:
    """A number or a grade; numbers that mean the same are equal."""
    grade = fold(text)
    return grade if grade in GRADES else number(text, state)


def _rule_part(name: str) -> Parser:
    """A list of a procedure whose form the due list must be able to read."""
    plain = listed()

    def parse(text: str, state: State) -> str:
        _as_rule(**{name: text})
        return str(plain(text, state))

    return parse


def _as_rule(**columns: Any) -> ProcedureRule:
    """Read columns of a procedure as the due list does; a refusal leaves out the name, which stands beside it."""
    try:
        return parse_procedure(0, "", **columns)
    except Refused as refusal:
        raise Refused(refusal.what.removeprefix('Procedure "": '), refusal.hint) from None


def _resets(text: str, state: State) -> str:
    for reset in _as_rule(resets=text).resets:
        state.names("measurement").need(reset.measurement)
    return str(listed()(text, state))


def _retests(text: str, state: State) -> str:
    for part in text.split(";"):
        if part.strip():
            state.names("measurement").need(part)
    return str(listed()(text, state))


def _every_months(text: str, state: State) -> int:
    months = int(whole(1)(text, state))
    _as_rule(every_months=months)
    return months


def _each(parser: Parser, columns: str) -> dict[str, Parser]:
    return dict.fromkeys(columns.split(), parser)


_EQUIPMENT: dict[str, dict[str, Parser]] = {
    "models.csv": {
        **_each(short, "model maker kind media"),
        "drive_type": one_of(DRIVE_TYPES),
        "nominal_speed": listed(speed, SHORT),
        **_each(yes_no, "speed_adjustable supply_inside"),
        "replacement_value": _amount,
        "currency": currency,
        "note": long,
    },
    "locations.csv": {"location": short, "inside": short, "note": long},
    "units.csv": {
        **_each(short, "tag model maker serial rom"),
        "serial_state": one_of(SERIAL_STATES),
        "owner": _person("owner"),
        "location": _location,
        "standing": STANDING_WORDS,
        "acquired_on": past_day,
        "acquired_from": _person("outside", doubtful=False),
        "price": _amount,
        "currency": currency,
        **_each(long, "condition marks jumpers modifications accessories note"),
    },
    "entries.csv": {
        "tag": _tag,
        "what": one_of(ENTRY_KINDS),
        "value": short,
        "from_date": past_day,
        "note": long,
    },
    "pairings.csv": {**_each(_tag, "drive supply_unit"), "from_date": past_day, "to_date": any_day},
    "parts.csv": {
        **_each(_tag, "tag donor"),
        **_each(short, "part lot service"),
        **_each(past_day, "fitted_on removed_on"),
        "supply": _named("supply"),
    },
}
_MEASUREMENT: dict[str, dict[str, Parser]] = {
    "measurements.csv": {
        "measurement": short,
        "measured_in": _measured_in,
        "ratio": yes_no,
        "points": listed(),
        **_each(long, "source note"),
    },
    "instruments.csv": {
        **_each(short, "instrument kind host version"),
        "measurement": _named("measurement"),
        "reference": yes_no,
        "from_date": past_day,
        **_each(from_zero, "resolution uncertainty"),
        "tag": _tag,
        "note": long,
    },
    "limits.csv": {
        "tag": _tag,
        **_each(short, "model class maker point"),
        "measurement": _named("measurement"),
        **_each(number, "nominal lower upper"),
        "source": long,
        "from_date": any_day,
    },
    "readings.csv": {
        **_each(_tag, "tag supply_unit"),
        "measurement": _named("measurement"),
        "point": short,
        "taken_on": past_day,
        "instrument": _named("instrument"),
        "value": _result,
        "stage": one_of(STAGES),
        **_each(short, "service disk load"),
        "measured_in": unit_symbol,
        "warm_up_minutes": from_zero,
        **_each(long, "set_aside note"),
    },
}
_MAINTENANCE: dict[str, dict[str, Parser]] = {
    "procedures.csv": {
        "procedure": short,
        "revision": whole(1),
        "applies_to": listed(),
        "every_months": _every_months,
        "every_hours": above_zero,
        "triggers": _rule_part("triggers"),
        "minutes": whole(0),
        "resets": _resets,
        "retests": _retests,
        **_each(long, "cautions steps source"),
    },
    "amounts.csv": {
        "procedure": _named("procedure"),
        "supply": _named("supply"),
        "quantity": _amount,
        "measured_in": unit_symbol,
        "chance": between(0, 1, ends=True),
    },
    "services.csv": {
        **_each(short, "service outcome"),
        "tag": _tag,
        **_each(past_day, "opened_on closed_on"),
        "procedures": _several("procedure"),
        **_each(long, "reason findings"),
        "minutes": whole(0),
        "by": _person("outside"),
    },
    "hours.csv": {"tag": _tag, "read_on": past_day, "hours": from_zero, "reset": yes_no},
    "faults.csv": {
        "tag": _tag,
        **_each(past_day, "noticed_on closed_on"),
        **_each(long, "symptom cause cure"),
        "service": short,
        "by": _person("outside"),
    },
}
_SUPPLIES: dict[str, dict[str, Parser]] = {
    "supplies.csv": {
        **_each(short, "supply kind polymer thickener strength size"),
        "measured_in": unit_symbol,
        **_each(exact, "smallest_step density"),
        "tracked": one_of(TRACKED),
        "fits": listed(),
        **_each(whole(1), "shelf_life_months open_life_months"),
        "wanted_chance": between(0, 1, ends=False),
        "note": long,
    },
    "suppliers.csv": {
        "supplier": short,
        "lead_days": whole(0),
        "shipping": _amount,
        "currency": currency,
        "note": long,
    },
    "offers.csv": {
        "supplier": _named("supplier"),
        "supply": _named("supply"),
        **_each(_amount, "pack_quantity price"),
        "currency": currency,
        **_each(whole(1), "from_packs minimum_packs"),
        "lead_days": whole(0),
    },
    "lots.csv": {
        "supply": _named("supply"),
        "lot": short,
        **_each(past_day, "received_on opened_on"),
        **_each(_amount, "quantity price"),
        "currency": currency,
        "supplier": _named("supplier"),
        "made": _made,
        "expires_on": any_day,
    },
    "orders.csv": {
        "order": short,
        "supplier": _named("supplier"),
        **_each(past_day, "ordered_on arrived_on cancelled_on"),
        "supply": _named("supply"),
        "packs": whole(1),
        "arrived_packs": whole(0),
    },
    "uses.csv": {
        "supply": _named("supply"),
        **_each(short, "lot service"),
        "quantity": _amount,
        "used_on": past_day,
        "tag": _tag,
        "procedure": _named("procedure"),
        "basis": one_of(BASES),
        "planned": yes_no,
        "what": one_of(WHAT_USED),
        "reason": long,
    },
    "counts.csv": {"supply": _named("supply"), "lot": short, "counted_on": past_day, "quantity": _amount},
}
_PEOPLE: dict[str, dict[str, Parser]] = {
    "people.csv": {
        **_each(short, "person email phone"),
        "role": one_of(ROLES),
        **_each(long, "address note"),
    },
    "valuations.csv": {
        "tag": _tag,
        "valued_on": past_day,
        "amount": _amount,
        "currency": currency,
        "basis": short,
        "by": _person("outside"),
        "evidence": long,
    },
    "policies.csv": {
        **_each(short, "policy insurer"),
        **_each(any_day, "from_date to_date"),
        "sum_insured": _amount,
        "currency": currency,
        "note": long,
    },
    "loans.csv": {
        "loan": short,
        "direction": one_of(DIRECTIONS),
        "tag": _tag,
        "person": _person("outside"),
        **_each(past_day, "out_on back_on"),
        "due_on": any_day,
        **_each(long, "purpose condition_out condition_back"),
        "deposit": _amount,
        "currency": currency,
    },
}
PARSERS = _EQUIPMENT | _MEASUREMENT | _MAINTENANCE | _SUPPLIES | _PEOPLE
