"""What can be told of a record from the command line: each column of the folder with the rule it is read by.

The rules are those of the import, so that a record says the same whichever way it came in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy.engine import Connection

from collection.acts.amounts import read_amount, sum_given
from collection.acts.bring_in.form import PARSERS
from collection.acts.bring_in.parse import Parser, between, long, one_of, past_day, short, whole
from collection.acts.bring_in.state import Options, State
from collection.acts.work import Work
from collection.errors import fold
from collection.schema.custody import DAMAGE_KINDS, WAYS_OUT
from collection.store.book import open_book
from collection.views.orders import find_supplier
from collection.views.people import find_person
from collection.views.places import find_location
from collection.views.policies import find_policy
from collection.views.supplies import find_supply, supply_of

Read = Callable[[Work, str], dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Field:
    """How one text is read.

    read: returns the columns of the table it makes. columns: all of those, the one that is shown first. nothing: what
    they hold when an empty text takes the value away. required: it cannot be taken away. history: what the past rests
    on, so that a change asks for a reason.
    """

    read: Read
    columns: tuple[str, ...]
    nothing: Any = None
    required: bool = False
    history: bool = False
    yes_no: bool = False


def _of(file: str, told: str, column: str = "", **flags: Any) -> Field:
    """A column of the folder that is one column of the table."""
    name = column or told
    return Field(lambda work, text: {name: _parsed(work, file, told, text)}, (name,), **flags)


def _by(parser: Parser, column: str, **flags: Any) -> Field:
    """A column of the table that no file of the folder has."""
    return Field(lambda work, text: {column: parser(text, State(work.conn, work.today, Options()))}, (column,), **flags)


def _all_of(file: str, names: str, **flags: Any) -> dict[str, Field]:
    return {name: _of(file, name, **flags) for name in names.split()}


def _name(file: str, told: str, column: str = "name", **flags: Any) -> Field:
    """A name, with the form in which it is compared beside it."""

    def read(work: Work, text: str) -> dict[str, Any]:
        spelt = " ".join(_parsed(work, file, told, text).split())
        return {column: spelt, f"{column}_folded": fold(spelt)}

    return Field(read, (column, f"{column}_folded"), **flags)


def _money(column: str, what: str, **flags: Any) -> Field:
    """A sum, as "12.50" in the book's currency or "12.50 EUR"."""

    def read(work: Work, text: str) -> dict[str, Any]:
        money = sum_given(what, text, open_book(work.conn).settings.currency)
        return {column: money.minor, "currency": money.currency}

    return Field(read, (column, "currency"), **flags)


def _named(column: str, find: Callable[[Connection, str], int], **flags: Any) -> Field:
    """Something of the book, by its name."""
    return Field(lambda work, text: {column: find(work.conn, text)}, (column,), **flags)


def _parsed(work: Work, file: str, told: str, text: str) -> Any:
    return PARSERS[file][told](text, State(work.conn, work.today, Options()))


def _pack(work: Work, text: str) -> dict[str, Any]:
    """What a pack of an offer holds takes its supply besides: "id of the supply:amount"."""
    supply_id, _, amount = text.partition(":")
    held = read_amount(supply_of(work.conn, int(supply_id)), amount)
    return {"pack_steps": held.steps, "entered": f"{held.entered} {held.entered_in}"}


_FAULTS, _MODELS, _SUPPLIES, _LOTS, _OFFERS = "faults.csv", "models.csv", "supplies.csv", "lots.csv", "offers.csv"
_LIMITS, _MEASUREMENTS, _PROCEDURES, _LOANS = "limits.csv", "measurements.csv", "procedures.csv", "loans.csv"
_PERSON = _named("by_id", lambda conn, name: find_person(conn, name).id)

FIELDS: Mapping[str, Mapping[str, Field]] = {
    "fault": {
        "symptom": _of(_FAULTS, "symptom", required=True),
        "circumstances": _of(_FAULTS, "symptom", "circumstances"),
        "noticed_on": _of(_FAULTS, "noticed_on", required=True),
        **_all_of(_FAULTS, "cause cure closed_on"),
        "by": _PERSON,
    },
    "model": {
        "model": _name(_MODELS, "model", required=True),
        "maker": _name(_MODELS, "maker", "maker", nothing=""),
        "kind": _of(_MODELS, "kind", required=True, history=True),
        "drive_type": _of(_MODELS, "drive_type", history=True),
        "nominal_speed": _of(_MODELS, "nominal_speed", "nominal_speeds", history=True),
        **_all_of(_MODELS, "speed_adjustable supply_inside", yes_no=True),
        **_all_of(_MODELS, "media note"),
        "replacement_value": _money("replacement_minor", "A replacement value"),
    },
    "location": {
        "location": _name("locations.csv", "location", required=True),
        "inside": _named("inside_id", lambda conn, name: find_location(conn, name)[0]),
        "note": _of("locations.csv", "note"),
    },
    "person": {
        "person": _name("people.csv", "person", required=True),
        "role": _of("people.csv", "role", required=True),
        **_all_of("people.csv", "email phone address note"),
        "call_rank": _by(whole(1), "call_rank"),
    },
    "supply": {
        "supply": _name(_SUPPLIES, "supply", required=True),
        "kind": _of(_SUPPLIES, "kind", required=True),
        **_all_of(_SUPPLIES, "measured_in smallest_step tracked", required=True, history=True),
        "density": _of(_SUPPLIES, "density", history=True),
        **_all_of(_SUPPLIES, "polymer thickener strength size fits wanted_chance note"),
        **_all_of(_SUPPLIES, "shelf_life_months open_life_months", history=True),
        # What the folder of CSV files, whose form is fixed, does not carry.
        "guess_a_year": _by(between(0, 100_000, ends=True), "guess_a_year"),
        "written_since": _by(past_day, "written_since"),
    },
    "supplier": {
        "supplier": _name("suppliers.csv", "supplier", required=True),
        "lead_days": _of("suppliers.csv", "lead_days"),
        "shipping": _money("shipping_minor", "Shipping"),
        "note": _of("suppliers.csv", "note"),
    },
    "offer": {
        "pack_quantity": Field(_pack, ("entered", "pack_steps"), required=True),
        "price": _money("price_minor", "A price", required=True),
        "from_packs": _of(_OFFERS, "from_packs", required=True),
        **_all_of(_OFFERS, "minimum_packs lead_days"),
    },
    "lot": {
        "lot": _name(_LOTS, "lot", required=True),
        **_all_of(_LOTS, "made expires_on", history=True),
        "price": _money("price_minor", "A price"),
        "supplier": _named("supplier_id", lambda conn, name: find_supplier(conn, name).id),
        "note": _of(_SUPPLIES, "note"),
    },
    "service": {
        **_all_of("services.csv", "reason findings minutes"),
        "by": _PERSON,
    },
    "loan": {
        "person": _named("person_id", lambda conn, name: find_person(conn, name).id, required=True, history=True),
        "due_on": _of(_LOANS, "due_on", required=True),
        "purpose": _of(_LOANS, "purpose"),
        "deposit": _money("deposit_minor", "A deposit"),
        "cover": _by(long, "cover"),
        "agreement": _by(short, "agreement"),
        "by": _named("issued_by_id", lambda conn, name: find_person(conn, name).id),
    },
    "loan_item": {
        "along": _by(long, "along", history=True),
        "missing": _by(long, "along_missing", history=True),
        "condition_out": _of(_LOANS, "condition_out", history=True),
        "condition_back": _of(_LOANS, "condition_back", history=True),
    },
    "measurement": {
        "measurement": _name(_MEASUREMENTS, "measurement", required=True),
        "measured_in": _of(_MEASUREMENTS, "measured_in", required=True, history=True),
        "ratio": _of(_MEASUREMENTS, "ratio", yes_no=True),
        **_all_of(_MEASUREMENTS, "points source note"),
    },
    "limit_range": {
        "point": _of(_LIMITS, "point", nothing="", history=True),
        **_all_of(_LIMITS, "nominal lower upper from_date", history=True),
        "source": _of(_LIMITS, "source"),
    },
    "procedure": {
        "procedure": _name(_PROCEDURES, "procedure", required=True),
        "lubricates": _of(_PROCEDURES, "procedure", "lubricates", history=True),
        **_all_of(_PROCEDURES, "applies_to every_months every_hours triggers resets retests", history=True),
        **_all_of(_PROCEDURES, "cautions steps", history=True),
        **_all_of(_PROCEDURES, "minutes source"),
    },
    "policy": {
        "policy": _name("policies.csv", "policy", required=True),
        "from_date": _of("policies.csv", "from_date", required=True),
        "to_date": _of("policies.csv", "to_date"),
        "insurer": _of("policies.csv", "insurer"),
        "sum_insured": _money("insured_minor", "A sum insured"),
        "note": _of("policies.csv", "note"),
    },
    "damage": {
        "kind": _by(one_of(DAMAGE_KINDS), "kind", required=True, history=True),
        "found_on": _by(past_day, "found_on", required=True, history=True),
        "what": _by(long, "what", required=True),
        **{name: _by(long, name) for name in ("circumstances", "actions")},
        **{name: _by(past_day, name) for name in ("reported_on", "owner_told_on", "insurer_told_on")},
        "reported_by": _named("reported_by_id", lambda conn, name: find_person(conn, name).id),
        "by": _PERSON,
        "estimate": _money("estimate_minor", "An estimate"),
        "policy": _named("policy_id", lambda conn, name: find_policy(conn, name).id),
        "claim": _by(short, "claim"),
        "settled_on": _by(past_day, "settled_on"),
        "settled": _money("settled_minor", "A settlement"),
        "closed_on": _by(past_day, "closed_on"),
        "outcome": _by(long, "closed_how"),
    },
    "unit_exit": {
        "how": _by(one_of(WAYS_OUT), "how", required=True, history=True),
        "reason": _by(long, "reason", required=True, history=True),
        "to": _named("to_id", lambda conn, name: find_person(conn, name).id, history=True),
        "authority": _named("authority_id", lambda conn, name: find_person(conn, name).id),
        "price": _money("price_minor", "A price", history=True),
        "receipt_on": _by(past_day, "receipt_on"),
        "note": _by(long, "note"),
    },
    "wanted_part": {
        "part": _of("parts.csv", "part", required=True),
        "supply": _named("supply_id", lambda conn, name: find_supply(conn, name).id),
        "pieces": _of(_OFFERS, "from_packs", "pieces"),
        "wanted_on": _of("parts.csv", "fitted_on", "wanted_on", required=True),
        "note": _of("parts.csv", "part", "note"),
    },
}

# Of each table, which columns no two records share.
NAMED_ONCE: Mapping[str, tuple[str, ...]] = {
    "model": ("maker_folded", "name_folded"),
    "lot": ("supply_id", "name_folded"),
    **dict.fromkeys(
        ("location", "person", "supply", "supplier", "measurement", "procedure", "policy"), ("name_folded",)
    ),
}
