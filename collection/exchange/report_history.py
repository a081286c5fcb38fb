"""What the page of a unit's history is given: words, readings, pictures; without prices and without people if asked."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple

from collection.exchange.pictures import Picture
from collection.exchange.plot_history import history_picture
from collection.exchange.report_page import data_uri
from collection.quantity import show_day
from collection.views.card import Card, Fault
from collection.views.condition_checks import ConditionCheck
from collection.views.drift_rows import SeriesDrift
from collection.views.findings import Judged, show_range, show_result
from collection.views.loans import LoanRow
from collection.views.mechanisms import Sits
from collection.views.parts import LEFT, PartRow
from collection.views.reading_list import ReadingRow
from collection.views.safety import SafetyCheck
from collection.views.service_readings import BeforeAfter
from collection.views.unit_history import ServiceDone, UnitHistory

PICTURE_PX = 700  # of the square that a photo fits into: 60 mm at 300 dots an inch
_FEW = 3  # readings with a number: fewer make no picture
_DETAILS = ("condition", "marks", "drive_number", "jumpers", "rom", "modifications", "accessories", "box", "note")
_SHORTEST = 3  # letters: a shorter name is a part of too much else
_QUIET = ("within", "no limit")  # verdicts that need no word beside a reading
_LEFT_OUT = "(name left out)"
Row = dict[str, Any]


class Shown(NamedTuple):
    """What of a history is shown. form: how the book writes days."""

    form: str
    today: date
    prices: bool = True
    people: bool = True

    def day(self, text: str) -> str:
        """Return a (partial) day as the book writes it, "" for none."""
        return show_day(text, self.form) if text else ""


def history_places(
    history: UnitHistory, series: Sequence[SeriesDrift], pictures: Sequence[Picture], shown: Shown
) -> Row:
    """Return what the template of a unit's history may name.

    series: of its drift; each with three readings or more is drawn. pictures: what is attached to it.
    """
    card, unit = history.card, history.card.unit
    places = {
        "title": f"History of {unit.tag}",
        "tag": unit.tag,
        "model": _joined(" ", unit.maker, unit.model),
        "facts": [pair for pair in _facts(history, shown) if pair[1]],
        "photos": [_photo(each, shown.day) for each in pictures if each.jpeg],
        "papers": [_paper(each, shown.day) for each in pictures if not each.jpeg],
        "last": [_last(one, shown.day) for one in card.readings],
        "due": [(item.procedure, shown.day(item.due.isoformat())) for item in card.due],
        "plots": [_plot(each, shown) for each in series if _numbers(each) >= _FEW],
        "services": [_service(each, shown) for each in history.services],
        "faults": [_fault(each, shown.day) for each in card.faults],
        "parts": [_part(each, shown.day) for each in history.parts if each.state != LEFT],
        "lubricants": [(on.point, on.put.supply, shown.day(on.since)) for on in card.points],
        "checks": [_check(each, shown) for each in history.checks],
        "safety": [_safety(each, shown) for each in history.safety],
        "loans": [_loan(each, shown) for each in history.loans],
        "worth": _worth(history, shown) if shown.prices else [],
        "readings": list(_readings(history.readings, shown.day)),
    }
    return places if shown.people else without_names(places, history.people)


def without_names(places: Row, names: Iterable[str]) -> Row:
    """Return places of a template in whose texts each of some names is left out: people stand in free text, too."""
    known = sorted({name for name in names if len(name) >= _SHORTEST}, key=len, reverse=True)
    if not known:
        return places
    named = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, known))})(?!\w)", re.IGNORECASE)

    def cleared(value: Any) -> Any:
        if isinstance(value, str):
            return value if value.startswith("data:") else named.sub(_LEFT_OUT, value)
        if isinstance(value, dict):
            return {key: cleared(each) for key, each in value.items()}
        return [cleared(each) for each in value] if isinstance(value, list | tuple) else value

    return {key: cleared(value) for key, value in places.items()}


def _joined(between: str, *parts: str) -> str:
    return between.join(part for part in parts if part)


def _facts(history: UnitHistory, shown: Shown) -> Iterator[tuple[str, str]]:
    """Yield what is known of the unit, empty where nothing is told; where it is kept is nobody's business."""
    card, unit, details = history.card, history.card.unit, history.card.details
    speeds = unit.nominal_speeds and f"{unit.nominal_speeds} r/min"
    state = details["serial_state"]
    yield "kind", _joined(", ", unit.kind, unit.drive_type, speeds)
    yield "serial", _joined(" ", unit.serial, f"({state})" if state and state != "known" else "")
    yield "also called", ", ".join(card.aliases)
    if shown.people:
        yield "owner", unit.owner
    yield "standing", _joined(" since ", unit.standing, shown.day(unit.standing_from))
    yield "acquired", _acquired(card, shown)
    for arrival in card.arrivals:
        told = _joined(", ", arrival.contents, arrival.damage, arrival.note)
        yield "came", _joined(": ", shown.day(arrival.arrived_on), told)
    for damage in card.damage:
        came_of_it = damage.closed_how if damage.closed_on else "open"
        yield damage.kind, _joined(": ", shown.day(damage.found_on), _joined("; ", damage.what, came_of_it))
    yield "mechanism", _mechanism(card.mechanism, shown.day) if card.mechanism else ""
    yield "goes with", ", ".join(card.paired_with)
    for name in _DETAILS:
        yield name.replace("_", " "), details[name]


def _acquired(card: Card, shown: Shown) -> str:
    source = card.details["acquired_from"] if shown.people else ""
    price, how = card.details["price"] if shown.prices else "", card.details["acquired_how"]
    return _joined(", ", shown.day(card.unit.acquired_on), how, source and f"from {source}", price and f"for {price}")


def _mechanism(sits: Sits, day: Callable[[str], str]) -> str:
    """Say which mechanism is in the unit, whose readings it brought along, and where the unit's own is."""
    name = sits.name.removeprefix("mechanism ") or "none in it"
    brought = f"its readings in {', '.join(sits.read_in)} are among these" if sits.read_in else ""
    went = f"went to {sits.gone_to}" if sits.gone_to else "was taken out"
    own = f"the unit's own {went} on {day(sits.gone_on)}" if sits.gone_on else ""
    return _joined("; ", _joined(", fitted ", name, day(sits.since)), brought, own)


def _photo(picture: Picture, day: Callable[[str], str]) -> Row:
    assert picture.jpeg is not None  # noqa: S101  the caller chose those that have one
    said = _joined(", ", picture.title, day(picture.taken_on))
    return {"src": data_uri(picture.jpeg, "image/jpeg"), "says": said or f"picture {picture.number}"}


def _paper(picture: Picture, day: Callable[[str], str]) -> str:
    said = _joined(", ", picture.title, day(picture.taken_on)) or f"number {picture.number}"
    return f"{said} ({picture.why})"


def _last(one: Judged, day: Callable[[str], str]) -> Row:
    return {
        "what": _joined(" ", one.measurement.name, one.last.point),
        "value": show_result(one),
        "limit": show_range(one.limit),
        "says": "" if one.verdict in _QUIET else one.verdict,
        "day": _joined(", ", day(one.last.taken_on), one.last.stage),
        "instrument": one.last.instrument,
    }


def _numbers(series: SeriesDrift) -> int:
    return sum(each.value is not None for each in series.readings)


def _plot(series: SeriesDrift, shown: Shown) -> Row:
    row = series.row
    said = "; ".join(filter(None, (row.sentence, series.crossing, row.rests_on and f"rests on {row.rests_on}")))
    return {
        "what": _joined(" ", row.measurement, row.point),
        "measured_in": row.measured_in,
        "src": data_uri(history_picture(series, shown.today), "image/svg+xml"),
        "says": f"{said[:1].upper()}{said[1:]}.",
    }


def _service(done: ServiceDone, shown: Shown) -> Row:
    until = shown.day(done.closed_on) if done.closed_on != done.opened_on else ""
    return {
        "day": shown.day(done.opened_on),
        "until": until and f"to {until}" if done.closed_on else "open",
        "outcome": done.outcome,
        "by": done.by if shown.people else "",
        "work": ", ".join(done.procedures),
        "told": [text for text in (done.reason, done.findings) if text],
        "readings": [_before_after(each) for each in done.readings],
        "used": ", ".join(done.used),
    }


def _before_after(each: BeforeAfter) -> Row:
    found, left = ("" if result is None else result.shown for result in (each.found, each.left))
    return {
        "what": _joined(" ", each.measurement, each.point),
        "found": found,
        "left": left,
        "out": each.out_as_found,
    }


def _fault(fault: Fault, day: Callable[[str], str]) -> Row:
    cause = fault.cause or ("no fault found" if fault.no_fault_found else "")
    return {
        "noticed": day(fault.noticed_on),
        "closed": day(fault.closed_on) or "open",
        "symptom": fault.symptom,
        "cause": cause,
        "cure": fault.cure,
    }


def _part(part: PartRow, day: Callable[[str], str]) -> Row:
    source = _joined(", ", part.supply, part.lot and f"lot {part.lot}", part.donor and f"from {part.donor}")
    gone = _joined(" ", day(part.removed_on), part.to and f"to {part.to}")
    return {"part": part.part, "from": source, "fitted": day(part.fitted_on), "removed": gone, "note": part.note}


def _check(check: ConditionCheck, shown: Shown) -> Row:
    return {
        "day": shown.day(check.checked_on),
        "occasion": check.occasion,
        "condition": _joined(": ", check.grade, check.condition),
        "by": check.by if shown.people else "",
    }


def _safety(check: SafetyCheck, shown: Shown) -> Row:
    return {
        "day": shown.day(check.checked_on),
        "result": check.result,
        "rule": _joined("; ", check.rule, check.note),
        "until": shown.day(check.good_through),
        "by": check.by if shown.people else "",
    }


def _loan(loan: LoanRow, shown: Shown) -> Row:
    return {
        "person": loan.person if shown.people else "",
        "out": shown.day(loan.out_on),
        "back": shown.day(loan.back_on) or f"out, due {shown.day(loan.due_on)}",
        "purpose": loan.purpose if shown.people else "",
        "condition": _joined("; back: ", loan.condition_out, loan.condition_back),
    }


def _worth(history: UnitHistory, shown: Shown) -> list[Row]:
    return [
        {
            "day": shown.day(each.valued_on),
            "amount": f"{each.amount.text} {each.amount.currency}",
            "basis": each.basis,
            "by": each.by if shown.people else "",
            "evidence": each.evidence,
        }
        for each in history.valuations
    ]


def _readings(rows: Iterable[ReadingRow], day: Callable[[str], str]) -> Iterator[Row]:
    """Yield the readings of each measurement and point, in the order of taking."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        what = _joined(" ", row.measurement, row.point)
        groups.setdefault(what, []).append(_reading(row, day))
    for what in sorted(groups):
        yield {"what": what, "rows": groups[what]}


def _reading(row: ReadingRow, day: Callable[[str], str]) -> Row:
    aside = f"set aside: {row.set_aside}" if row.set_aside else ""
    elsewhere = f"of {row.mechanism}" if row.mechanism else ""
    says = "" if row.says in (*_QUIET, row.grade) else row.says
    return {
        "day": day(row.taken_on),
        "stage": row.stage,
        "value": row.shown,
        "says": _joined(", ", says, aside, elsewhere),
        "instrument": row.instrument,
    }
