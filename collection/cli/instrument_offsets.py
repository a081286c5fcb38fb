"""instrument list: each instrument and measurement, and how far it reads off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from collection.cli.medium import check_in_words, day_shown
from collection.cli.show import Column, Row

if TYPE_CHECKING:
    from collection.views.instrument_offsets import InstrumentFor

OFFSET_KEYS = (
    "instrument", "measurement", "offset", "offset_low", "offset_high", "repeatability", "linked", "offset_in",
    "reference", "against", "direct_pairs", "indirect", "since", "readings_used", "sentence", "set_off",
)  # fmt: skip
_SET_OFF = ("tag", "point", "set_on", "off", "off_low", "off_high", "sentence")
_OF_DRIFT = ("offset", "offset_low", "offset_high", "repeatability", "direct_pairs", "indirect")


def offset_object(one: InstrumentFor) -> dict[str, Any]:
    """Return what an instrument reads off for one measurement, as its keys are told to a program."""
    drift = one.drift
    return {
        "instrument": one.row.name,
        "measurement": one.measurement,
        **{key: drift and getattr(drift, key) for key in _OF_DRIFT},
        "linked": drift is not None and drift.linked,
        "offset_in": drift and ("%" if drift.in_percent else drift.measured_in),
        "reference": one.reference,
        "against": (drift and drift.against) or None,
        "since": one.since or None,
        "readings_used": drift.readings if drift else 0,
        "sentence": one.sentence,
        "set_off": [{key: asdict(each)[key] for key in _SET_OFF} for each in drift.set_off] if drift else [],
    }


def offset_cells(one: InstrumentFor, form: str) -> dict[str, Any]:
    """Return what the table of a person has in the place of several keys."""
    drift, day = one.drift, day_shown(form)
    before = "" if one.present else f" since {day(one.since)}" if one.since else " at first"
    repeats = drift.repeatability if drift else None
    unit = drift and ("%" if drift.in_percent else drift.measured_in)
    return {
        "name": one.row.name,
        "for": f"{one.measurement}{' *' if one.reference else ''}{before}",
        "used": drift.readings if drift else None,
        "repeats": one.short if repeats is None else f"{_two_digits(repeats)} {unit}",
        "last": day(one.row.last_read),
        "check": check_in_words(one.row, form),
        "said": "" if one.reference or not drift else "; ".join(filter(None, (one.sentence, _links(one)))),
    }


def once(rows: Iterable[Row]) -> Iterator[Row]:
    """Yield rows of a table in which an instrument is named, with its check, where its rows begin."""
    before = ""
    for row in rows:
        yield {**row, "name": "", "last": "", "check": ""} if row["name"] == before else row
        before = row["name"]


def offset_columns() -> Sequence[Column]:
    """Return the columns of the table."""
    return (
        Column("name", "instrument"),
        Column("for", "measurement"),
        Column("used", "readings", right=True),
        Column("repeats", "repeats to", right=True),
        Column("last", "last read"),
        Column("check"),
    )


def below_offsets(rows: Sequence[InstrumentFor]) -> Iterator[str]:
    """Yield what stands under the table: the references, and the units that were set wrong."""
    if any(one.reference for one in rows):
        yield "* reference"
    wrong = [(one, each) for one in rows if one.drift for each in one.drift.set_off]
    if wrong:
        yield ""
        yield "Set by an instrument that reads off, and not set anew since:"
    for one, each in wrong:
        yield f"{each.sentence.replace(' by it ', f' by {one.row.name} ', 1)}{_at(each.point)}"


def _two_digits(size: float) -> str:
    return f"{float(f'{size:.2g}'):.10g}"


def _at(point: str) -> str:
    return f" at {point}" if point else ""


def _links(one: InstrumentFor) -> str:
    """Return what ties an instrument to what it is compared with."""
    drift = one.drift
    if drift is None or not drift.against:
        return ""
    pairs = "1 pair" if drift.direct_pairs == 1 else f"{drift.direct_pairs} pairs"
    said = [f"{pairs} with {drift.against}"] if drift.direct_pairs else []
    if drift.indirect:
        said.append(f"linked over {'1 other' if drift.indirect == 1 else f'{drift.indirect} others'}")
    return ", ".join(said)
