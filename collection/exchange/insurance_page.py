"""The insurance schedule as a page to print and sign: what the template in reports/insurance is given."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from collection.analysis.insurance import OBJECT_ID, Sum
from collection.exchange.insurance_rows import SECTIONS, Leave, Line, lines, whereabouts
from collection.exchange.insurance_told import money, told_of
from collection.exchange.pictures import Picture
from collection.exchange.report_page import data_uri
from collection.quantity import Money, show_day
from collection.views.insurance import BORROWED, CONTENTS, MISSING, Schedule

REPORT = "insurance"
_TITLES = {
    CONTENTS: "Contents",
    BORROWED: "Borrowed, no part of the contents",
    MISSING: "Missing, counted with nothing",
}
_JPEG = "image/jpeg"
LARGE_PX, _MOST_PICTURES = 900, 4
SMALL_PX = 200  # 17 mm on paper at some 300 dots an inch


def places(
    plan: Schedule,
    leave: Leave,
    *,
    known: str,
    small: Mapping[int | None, bytes],
    large: Mapping[int | None, Sequence[Picture]],
) -> dict[str, Any]:
    """Return what the template may name.

    known: by what knowledge the schedule was made. small: a JPEG by unit. large: for each unit that gets a page of its
    own, what is attached to it.
    """
    form = plan.settings.date_form
    told = told_of(plan, leave, known)
    listed = lines(plan, leave)
    return {
        "title": "Schedule of contents",
        "as_of": show_day(plan.day.isoformat(), form),
        "known": known,
        "count": len(listed),
        "totals": list(_totals(plan)),
        "policies": [_policy(plan, number, form) for number in range(len(plan.policies))],
        "claims": [{"of": claim.of, "loss": money(claim.loss), "paid": money(claim.paid)} for claim in told.claims],
        "average": told.average,
        "notes": list(told.notes),
        "sums": [(word, _sums(plan.by(word, CONTENTS))) for word in ("location", "owner") if not _hides(leave, word)],
        "sections": [_section(plan, section, listed, small) for section in SECTIONS if plan.of(section)],
        "prices": not leave.prices,
        "owners": not leave.owners,
        "photos": bool(small),
        "pages": [_page(plan, line, large[line.unit_id]) for line in listed if line.unit_id in large],
    }


def _hides(leave: Leave, word: str) -> bool:
    return word == "owner" and leave.owners


def _totals(plan: Schedule) -> Iterable[dict[str, str]]:
    contents, borrowed, insured = plan.totals(CONTENTS), plan.totals(BORROWED), plan.insured()
    for code in sorted({*contents, *borrowed, *insured}):
        yield {
            "currency": code,
            "contents": money(contents.get(code, Money(0, code))),
            "borrowed": money(borrowed[code]) if code in borrowed else "",
            "insured": money(insured[code]) if code in insured else "",
        }


def _policy(plan: Schedule, number: int, form: str) -> dict[str, str]:
    policy = plan.policies[number]
    return {
        "name": policy.name,
        "insurer": policy.insurer,
        "first": show_day(policy.from_date, form),
        "last": show_day(policy.to_date, form) if policy.to_date else "",
        "insured": money(policy.insured) if policy.insured else "no sum told",
        "note": policy.note,
    }


def _sums(sums: Sequence[Sum]) -> list[dict[str, str]]:
    return [{"name": each.name or "not told", "things": str(each.things), "worth": money(each.total)} for each in sums]


def _section(plan: Schedule, section: str, listed: Sequence[Line], small: Mapping[int | None, bytes]) -> dict[str, Any]:
    own = [line for line in listed if line.section == section]
    sums = plan.totals(section) if section != MISSING else {}
    rows = [_row(line, plan.settings.date_form, small.get(line.unit_id)) for line in own]
    return {"title": _TITLES[section], "rows": rows, "totals": [money(sums[code]) for code in sorted(sums)]}


def _row(line: Line, form: str, jpeg: bytes | None) -> dict[str, Any]:
    away = whereabouts(line)
    more = [
        f"serial no. {line.serial}" if line.serial else "",
        line.marks,
        line.features,
        line.condition,
    ]
    return {
        "number": str(line.number),
        "photo": data_uri(jpeg, _JPEG) if jpeg else "",
        "tag": line.tag,
        "name": line.name,
        "kind": ", ".join(filter(None, (line.kind, line.described))),
        "more": list(filter(None, more)),
        "location": line.location,
        "away": away,
        "until": show_day(line.until, form) if away and line.until else "",
        "owner": "" if away and line.owner == line.with_whom else line.owner,
        "acquired": show_day(line.acquired_on, form) if line.acquired_on else "",
        "price": money(line.price) if line.price else "",
        "bought_from": f"from {line.bought_from}" if line.bought_from else "",
        "value": money(line.value) if line.value else "",
        "counts": line.counts or line.section == MISSING,
        "basis": list(_basis(line, form)),
        "flag": line.flag,
        "tested": f"tested {show_day(line.tested_on, form)}" if line.tested else "untested" if line.tag else "",
    }


def _basis(line: Line, form: str) -> Iterable[str]:
    """Yield on what a value rests; what the flag says of it already is not said twice."""
    if line.valued_on and line.tag:
        yield line.basis
        yield show_day(line.valued_on, form)
    if line.valued_by:
        yield line.valued_by


def _page(plan: Schedule, line: Line, pictures: Sequence[Picture]) -> dict[str, Any]:
    """Return the page of a thing of high value: pictures, the categories of Object ID, and its value."""
    row = _row(line, plan.settings.date_form, None)
    facts = [
        ("Present value", row["value"]),
        ("Basis", ", ".join(row["basis"]) or line.basis),
        ("Evidence", line.evidence),
        ("About the value", line.flag),
        ("Acquired", ", ".join(filter(None, (row["acquired"], row["price"], row["bought_from"])))),
        ("Place", ", ".join(filter(None, (line.location, row["away"], row["until"] and f"until {row['until']}")))),
        ("Owner", row["owner"]),
        ("Tested", row["tested"]),
    ]
    return {
        "number": row["number"],
        "title": " ".join(filter(None, (line.tag, line.name))),
        "pictures": [
            {"title": each.title, "picture": data_uri(each.jpeg, _JPEG)}
            for each in [found for found in pictures if found.jpeg][:_MOST_PICTURES]
            if each.jpeg
        ],
        "identity": list(zip(OBJECT_ID, line.identity, strict=True)),
        "facts": [(word, text) for word, text in facts if text],
    }
