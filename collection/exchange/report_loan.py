"""What the page of a loan slip is given: both sides, each unit with its picture and condition, lines to sign."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from collection.exchange.report_page import data_uri
from collection.quantity import show_day
from collection.views.loan_slip import LoanSlip, SlipItem


def loan_places(slips: Sequence[LoanSlip], book: str, form: str, pictures: Mapping[int, bytes]) -> dict[str, Any]:
    """Return what the template of the loan slip may name.

    book: its name, that of the other side. form: how it writes days. pictures: a small JPEG by the id of its unit.
    """
    title = f"Loan slip {', '.join(slip.loan for slip in slips)}"
    return {"title": title, "slips": [_slip(slip, book, form, pictures) for slip in slips]}


def _slip(slip: LoanSlip, book: str, form: str, pictures: Mapping[int, bytes]) -> dict[str, Any]:
    person = slip.person
    contact = [line for line in (*person.address.splitlines(), person.phone, person.email) if line.strip()]
    other = {"name": person.name, "contact": contact}
    own = {"name": book, "contact": []}
    lent = slip.direction == "out"
    facts = (
        ("from", show_day(slip.out_on, form)),
        ("due back", show_day(slip.due_on, form)),
        ("purpose", slip.purpose),
        ("cover", slip.cover),
        ("agreement", slip.agreement),
        ("handed over by" if lent else "taken in by", slip.issued_by),
        ("deposit", f"{slip.deposit.text} {slip.deposit.currency}" if slip.deposit else ""),
    )
    return {
        "loan": slip.loan,
        "lender": own if lent else other,
        "borrower": other if lent else own,
        "facts": [(name, text) for name, text in facts if text],
        "items": [_item(item, form, pictures) for item in slip.items],
        "pictures": any(item.unit.id in pictures for item in slip.items),
        "all_back": all(item.back_on for item in slip.items),
    }


def _item(item: SlipItem, form: str, pictures: Mapping[int, bytes]) -> dict[str, Any]:
    unit = item.unit
    jpeg = pictures.get(unit.id)
    return {
        "tag": unit.tag,
        "model": f"{unit.maker} {unit.model}".strip(),
        "kind": unit.kind,
        "serial": unit.serial,
        "marks": item.marks,
        "along": [text for text in (item.along, item.accessories) if text],
        "condition": item.condition_out,
        "readings": item.readings,
        "picture": data_uri(jpeg, "image/jpeg") if jpeg else "",
        "back_on": show_day(item.back_on, form) if item.back_on else "",
        "condition_back": [text for text in (item.condition_back, _missing(item)) if text],
    }


def _missing(item: SlipItem) -> str:
    return f"missing: {item.along_missing}" if item.along_missing else ""
