"""What the page of a year is given: its figures in words, and its pictures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from collection.analysis.drift.shown import as_chance
from collection.exchange.pictures import Picture
from collection.exchange.plot_year import as_found_picture, months_picture
from collection.exchange.report_page import data_uri
from collection.quantity import Money, show_day
from collection.views.year import Loans, Standings, Year
from collection.views.year_costs import Bought, Taken
from collection.views.year_work import AsFound, Faults, Services, Within

PHOTOS, PICTURE_PX = 4, 520  # in a row across the page; 43 mm at 300 dots an inch
_MOST = 8  # rows of a table: the page of a year is one sheet
_WORTH_TELLING = 0.10  # chance of leaving limits within twelve months
_MINUTES = 60
Row = dict[str, Any]


def year_places(
    year: Year, drift: Sequence[Row], photos: Iterable[tuple[str, Picture]], form: str, models: dict[str, str]
) -> Row:
    """Return what the template of a year may name.

    drift: of the fleet today under the keys of its list, the worst first; none for a year long ago. photos: taken in
    it, each with the tag of its unit. form: how the book writes days. models: of the units by tag.
    """
    services = year.services
    found = year.as_found
    end, leaving = year.standings[-1], _worth_telling(drift)
    return {
        "title": f"The year {year.year}" if year.over else f"{year.year} until {_day(year.last.isoformat(), form)}",
        "year": str(year.year),
        "heads": _heads(year, end),
        "months": data_uri(months_picture(year.standings, services.months), "image/svg+xml"),
        "units": _units(year, end, models),
        "services": _services(services),
        "procedures": [(name, str(times)) for name, times in services.procedures[:_MOST]],
        "as_found": _as_found(found, year.as_found_before, year.year),
        "as_found_picture": _picture(found, year) if found.by_measurement else "",
        "faults": _faults(year.faults),
        "drift": [_drift(row, form) for row in leaving[:_MOST]],
        "drift_told": bool(drift),
        "drift_more": _more(len(leaving) - _MOST, "series"),
        "taken": [_taken(each) for each in year.taken[:_MOST]],
        "taken_more": _more(len(year.taken) - _MOST, "supplies"),
        "costs": list(_costs(year)),
        "loans": _loans(year.loans),
        "photos": [_photo(tag, each) for tag, each in photos if each.jpeg],
    }


def _day(text: str, form: str) -> str:
    return show_day(text, form) if text else ""


def _heads(year: Year, end: Standings) -> list[tuple[str, str]]:
    """Return the figures that stand large at the top, each with what it counts."""
    found = year.as_found.readings
    return [
        (str(end.total), "units"),
        (str(end.units.get("ready", 0)), "of them ready"),
        (str(year.services.total), "services"),
        (_percent(found), "as found within limits"),
        (str(year.loans.begun), "units lent"),
    ]


def _percent(found: Within) -> str:
    """Return a share as a whole number of per cent, never 100 where one was outside; "–" where nothing was judged."""
    if not found.judged:
        return "–"
    share = round(100 * found.within / found.judged)
    if found.within < found.judged:
        share = min(share, 99)
    return f"{max(share, 1) if found.within else 0} %"


def _many(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _more(number: int, what: str) -> str:
    return f"and {number} more {what}" if number > 0 else ""


def _units(year: Year, end: Standings, models: dict[str, str]) -> list[str]:
    said = [f"{_many(end.total, 'unit', 'units')}: {_counted(end)}."] if end.total else ["No unit at the end."]
    for what, tags in (("Came", year.came), ("Left", year.left)):
        if tags:
            named = [f"{tag} ({models[tag]})" if models.get(tag) else tag for tag in tags[:_MOST]]
            said.append(f"{what}: {', '.join([*named, _more(len(tags) - _MOST, 'units')]).rstrip(', ')}.")
    return said


def _counted(end: Standings) -> str:
    return ", ".join(
        f"{number} {standing}" for standing, number in sorted(end.units.items(), key=lambda each: -each[1])
    )


def _services(services: Services) -> str:
    if not services.total:
        return "No service was closed."
    said = f"{_many(services.total, 'service', 'services')} on {_many(services.units, 'unit', 'units')}"
    if services.timed:
        hours, minutes = divmod(services.minutes, _MINUTES)
        over = "" if services.timed == services.total else f" told of {services.timed}"
        said += f", {hours} h {minutes} min{over}"
    if services.no_month:
        said += f"; of {services.no_month} only the year is known"
    return f"{said}."


def _as_found(found: AsFound, before: AsFound, year: int) -> str:
    readings = found.readings
    if not readings.judged:
        return "No reading as found that has a limit."
    said = f"{readings.within} of {readings.judged} readings as found were within their limits ({_percent(readings)})"
    if before.readings.judged:
        said += f"; in {year - 1} {before.readings.within} of {before.readings.judged} ({_percent(before.readings)})"
    opened = found.openings
    if opened.judged:
        said += f". In {opened.within} of {opened.judged} openings everything was"
    return f"{said}."


def _picture(found: AsFound, year: Year) -> str:
    return data_uri(as_found_picture(found, year.as_found_before, year.year), "image/svg+xml")


def _faults(faults: Faults) -> str:
    none = f", {faults.none_found} without a fault found" if faults.none_found else ""
    return f"{faults.noticed} noticed, {faults.closed} closed{none}, {faults.open} open at the end."


def _worth_telling(drift: Iterable[Row]) -> list[Row]:
    """Return the series that may well leave their limits within twelve months."""
    return [row for row in drift if (row["chance_12_months"] or 0.0) >= _WORTH_TELLING]


def _drift(row: Row, form: str) -> Row:
    return {
        "tag": row["tag"],
        "what": " ".join(filter(None, (row["measurement"], row["point"]))),
        "chance": as_chance(row["chance_12_months"]),
        "recheck": _day(row["recheck_by"] or "", form),
        "says": row["sentence"],
    }


def _taken(each: Taken) -> Row:
    return {
        "supply": each.supply,
        "used": each.used,
        "uses": str(each.uses) if each.uses else "",
        "discarded": each.discarded,
        "value": _sums(each.value) + (f" ({each.unpriced} without a price)" if each.unpriced else ""),
    }


def _sums(sums: Sequence[Money]) -> str:
    return " + ".join(f"{each.text} {each.currency}" for each in sums)


def _costs(year: Year) -> Iterable[tuple[str, str]]:
    from collection.views.year_costs import summed

    taken = summed(sum_ for each in year.taken for sum_ in each.value)
    if taken:
        yield "what was used and thrown away had cost", _sums(taken)
    for what, bought in (("lots for the drawer", year.supplies), ("units", year.units)):
        if bought.number:
            yield f"paid for {what}", _paid(bought)


def _paid(bought: Bought) -> str:
    if not bought.priced:
        return f"not known of any of {bought.number}"
    rest = "" if bought.priced == bought.number else f", price told of {bought.priced} of {bought.number}"
    return f"{_sums(bought.sums)}{rest}"


def _loans(loans: Loans) -> str:
    if not (loans.begun or loans.back or loans.out or loans.borrowed):
        return "Nothing was lent or borrowed."
    late = f" ({loans.late} late)" if loans.late else ""
    days = _many(loans.days, "day", "days")
    said = f"{_many(loans.begun, 'unit', 'units')} lent, {loans.back} back{late}, together {days} away"
    overdue = f", {loans.overdue} of them past their day" if loans.overdue else ""
    said += f"; {loans.out} out at the end{overdue}"
    return f"{said}; {_many(loans.borrowed, 'unit', 'units')} borrowed." if loans.borrowed else f"{said}."


def _photo(tag: str, picture: Picture) -> Row:
    assert picture.jpeg is not None  # noqa: S101  the caller chose those that have one
    says = f"{tag}: {picture.title}" if picture.title else tag
    return {"src": data_uri(picture.jpeg, "image/jpeg"), "says": says}
