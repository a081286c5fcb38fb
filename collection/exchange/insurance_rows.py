"""The lines of an insurance schedule in words, the same for the workbook and for the page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from collection.analysis.insurance import AT_COST, NONE, OBJECT_ID, OF_MODEL, OLD, WITH_ANOTHER, noted
from collection.quantity import Money
from collection.views.insurance import BORROWED, CONTENTS, MISSING, Item, Schedule
from collection.views.insurance_facts import Details
from collection.views.units import ON_LOAN

SECTIONS = (CONTENTS, BORROWED, MISSING)


@dataclass(frozen=True, slots=True)
class Leave:
    """What a schedule leaves out: prices paid and to whom, owners, the names of borrowers, pictures."""

    prices: bool = False
    owners: bool = False
    borrowers: bool = False
    photos: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One thing, all texts as shown but for days, which are ISO texts (maybe partial); "" for nothing.

    value: what it is worth; counts: whether that is part of the sum, or of another thing's. flag: what is to be said of
    the value. identity: the eleven categories of Object ID in their order.
    """

    number: int
    section: str
    unit_id: int | None
    tag: str
    kind: str
    maker: str
    model: str
    described: str
    serial: str
    marks: str
    features: str
    condition: str
    location: str
    standing: str
    with_whom: str
    until: str
    owner: str
    acquired_on: str
    bought_from: str
    price: Money | None
    value: Money | None
    counts: bool
    basis: str
    valued_on: str
    valued_by: str
    evidence: str
    state: str
    flag: str
    tested: bool
    tested_on: str
    identity: tuple[str, ...]

    @property
    def name(self) -> str:
        """Maker and model, or what else it is called."""
        return f"{self.maker} {self.model}".strip()


def lines(plan: Schedule, leave: Leave) -> list[Line]:
    """Return the lines of a schedule, numbered: contents, then what is borrowed, then what is missing."""
    ordered = [item for section in SECTIONS for item in plan.of(section)]
    return [_line(number, item, plan, leave) for number, item in enumerate(ordered, 1)]


def _line(number: int, item: Item, plan: Schedule, leave: Leave) -> Line:
    unit, own, valued, loan = item.unit, item.details, item.valued, item.loan
    theirs = item.section == BORROWED
    hidden = leave.owners if theirs else leave.borrowers
    return Line(
        number=number,
        section=item.section,
        unit_id=unit.id if unit else None,
        tag=unit.tag if unit else "",
        kind=item.kind,
        maker=unit.maker if unit else "",
        model=unit.model if unit else item.name,
        described=item.described,
        serial=_serial(item),
        marks=own.marks if own else "",
        features=_features(own),
        condition=own.condition if own else "",
        location=item.location,
        standing=unit.standing if unit else "",
        with_whom=loan.person if loan and not hidden else "",
        until=loan.due_on if loan else "",
        owner="" if leave.owners else item.owner,
        acquired_on=unit.acquired_on if unit else "",
        bought_from=own.bought_from if own and not (leave.prices or (theirs and leave.owners)) else "",
        price=own.price if own and not leave.prices else None,
        value=valued.amount if valued else None,
        counts=item.counted is not None and item.section != MISSING,
        basis=valued.basis if valued else "",
        valued_on=valued.valued_on if valued else "",
        valued_by=valued.by if valued else "",
        evidence=valued.evidence if valued else "",
        state=item.state,
        flag=flag(item, plan.months),
        tested=bool(item.tested_on),
        tested_on=item.tested_on,
        identity=_identity(item),
    )


def flag(item: Item, months: int) -> str:
    """Return what is to be said of the value of a thing; "" where nothing is."""
    return {
        OLD: f"out of date: valued more than {months} months before",
        OF_MODEL: "nobody valued it: what its model costs to replace",
        NONE: "not valued",
        WITH_ANOTHER: f"counts with {item.with_tag}, in which it stands",
        AT_COST: "at what it cost",
    }.get(item.state, "")


def whereabouts(line: Line) -> str:
    """Return where a thing is instead of at its place: lent, or borrowed until when; "" where it is at its place."""
    if line.section == BORROWED:
        return f"borrowed from {line.with_whom}" if line.with_whom else "borrowed"
    if line.standing == ON_LOAN:
        return f"on loan to {line.with_whom}" if line.with_whom else "on loan"
    return line.standing if line.standing in ("missing", "away") else ""


def _serial(item: Item) -> str:
    if item.unit is None:
        return ""
    state = item.details.serial_state if item.details else ""
    return item.unit.serial or (f"({state})" if state in ("lost", "illegible") else "")


def _features(own: Details | None) -> str:
    """Return what tells a unit from others of its model, each under its own word."""
    if own is None:
        return ""
    named = (
        ("jumpers", own.jumpers),
        ("ROM", own.rom),
        ("modified", own.modifications),
        ("with", own.accessories),
        ("box", own.box),
    )
    return "; ".join(f"{word}: {text}" for word, text in named if text)


def _identity(item: Item) -> tuple[str, ...]:
    """Return what the book tells of each category of Object ID, "" where it tells nothing."""
    unit, own = item.unit, item.details
    told, notes = noted(own.note, own.model_note) if own else ({}, ("", ""))
    serial = _serial(item)
    fields = {
        "Photographs": f"{item.photos} in the book" if item.photos else "",
        "Type of object": _joined((item.kind, item.described)),
        "Measurements": f"for media of {own.media}" if own and own.media else "",
        "Inscriptions and markings": _joined((f"serial no. {serial}" if serial else "", own.marks if own else "")),
        "Distinguishing features": _joined((_features(own), own.condition)) if own else "",
        "Maker": unit.maker if unit else "",
        "Short description": _joined((item.name, *notes)),
    }
    both = {"Measurements": _joined((told.get("Measurements", ""), fields["Measurements"]))}
    known = fields | told | both
    return tuple(known.get(category, "") for category in OBJECT_ID)


def _joined(parts: Iterable[str]) -> str:
    """Return what stands in some parts, each its own sentence or apart by a semicolon."""
    whole = ""
    for part in filter(None, parts):
        whole += f"{' ' if whole.endswith('.') else '; ' if whole else ''}{part}"
    return whole
