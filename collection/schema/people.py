"""People, loans, valuations and policies. All personal data of the book stands in ``person``."""

from sqlalchemy import CheckConstraint, Index

from collection.schema.columns import (
    append_only,
    at_least,
    day_form,
    editable,
    lengths,
    one_of,
    reference,
    text,
    unique_name,
    whole,
)

ROLES = ("keeper", "issuer", "member", "owner", "outside")
DIRECTIONS = ("out", "in")
PERSONAL = ("name", "name_folded", "email", "phone", "address", "note")

person = editable(
    "person",
    text("name", required=True),
    text("name_folded", required=True),
    text("role", required=True),
    text("email"),
    text("phone"),
    text("address"),
    text("note"),
    text("salt", required=True),
    # An earlier state of a person is a void row of this same table, so that forgetting has one place to go.
    reference("former_of_id", "person"),
    # Whom to call first when things must be carried out; 1 is the first.
    whole("call_rank"),
    *lengths(short=["name", "email", "phone"], long=["address", "note"]),
    at_least("call_rank", 1),
    one_of("role", ROLES),
    CheckConstraint("former_of_id IS NULL OR void = 1", name="former_is_void"),
)
unique_name(person, "name_folded")
Index("ix_person_former_of_id", person.c.former_of_id)

loan = editable(
    "loan",
    text("name", required=True),
    text("direction", required=True),
    reference("person_id", "person", required=True),
    text("out_on", required=True),
    text("due_on", required=True),
    text("purpose"),
    whole("deposit_minor"),
    text("currency"),
    text("cover"),
    text("agreement"),
    reference("issued_by_id", "person"),
    text("deposit_back_on"),
    whole("deposit_back_minor"),
    *lengths(short=["name", "agreement"], long=["purpose", "cover"]),
    day_form("deposit_back_on"),
    at_least("deposit_back_minor", 0),
    one_of("direction", DIRECTIONS),
    day_form("out_on"),
    day_form("due_on"),
    CheckConstraint("due_on >= out_on", name="due_after_out"),
    at_least("deposit_minor", 0),
)
Index("ix_loan_person_id", loan.c.person_id)

loan_item = editable(
    "loan_item",
    reference("loan_id", "loan", required=True),
    reference("unit_id", "unit", required=True),
    text("back_on"),
    text("condition_out"),
    text("condition_back"),
    text("along"),
    text("along_missing"),
    reference("taken_by_id", "person"),
    *lengths(long=["condition_out", "condition_back", "along", "along_missing"]),
    day_form("back_on"),
)
unique_name(loan_item, "loan_id", "unit_id")
Index("ix_loan_item_unit_id", loan_item.c.unit_id)

valuation = append_only(
    "valuation",
    reference("unit_id", "unit", required=True),
    text("valued_on", required=True),
    whole("amount_minor", nullable=False),
    text("currency", required=True),
    text("basis", required=True),
    reference("by_id", "person"),
    text("evidence"),
    *lengths(short=["basis"], long=["evidence"]),
    day_form("valued_on"),
    at_least("amount_minor", 0),
)
Index("ix_valuation_unit_id", valuation.c.unit_id, valuation.c.valued_on)

policy = editable(
    "policy",
    text("name", required=True),
    text("name_folded", required=True),
    text("from_date", required=True),
    text("to_date"),
    text("insurer"),
    whole("insured_minor"),
    text("currency"),
    text("note"),
    *lengths(short=["name", "insurer"], long=["note"]),
    day_form("from_date"),
    day_form("to_date"),
    at_least("insured_minor", 0),
)
unique_name(policy, "name_folded")

TABLES = (person, loan, loan_item, valuation, policy)
