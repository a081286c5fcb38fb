"""The rows of every list, read from a book, with what each of their columns is: text, day, number, whole number ..."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.errors import Refused, nearest
from collection.exchange import book_columns
from collection.views.book_sheets import sheet_rows
from collection.views.folder.form import KEY

TEXT, DAY, INSTANT, NUMBER, WHOLE, YES_NO, LIST = "text", "day", "instant", "number", "whole", "yes-no", "list"
Row = Mapping[str, Any]
_MARKS = {"@": DAY, "!": INSTANT, "#": NUMBER, "%": WHOLE, "?": YES_NO, "*": LIST}
_DUE_WITHIN = 366  # days: whoever wants less chooses by days_over

# The lists that are worked out, or that the CSV form does not have; the mark behind a name is its kind, none is text.
_COLUMNS = {
    "due": "tag model location standing due@ days_over% procedures* why* note",
    "stock": "supply lot quantity# measured_in received_on@ expires_on@ opened_on@ usable_through@ rests_on state*"
    " location value# currency then after_inspection@",
    "reorder": "supply state order_by@ packs% quantity# supplier cost# currency chance_short# on_hand# rests_on*"
    " measured_in shipping# needed_by@ on_order# planned# planned_low# planned_high# unplanned# unplanned_low#"
    " unplanned_high# held_up* wanted* ask parcel_by@",
    "consumption": "supply procedure measured_in sheet# chance# mean# mean_low# mean_high# spread# ratio# says weighed%"
    " from_counts# by_sheet% services% taken_in% a_year#",
    "unit consumption": "tag model year% days% services% minutes# timed% cost# currency priced% uses% belts%"
    " services_a_year# minutes_a_service# minutes_a_year# cost_a_service# cost_a_year# belts_a_year# eats_belts?",
    "intervals": "procedure class every_months% every_hours# units% within% came% share_low# share_high# months_after#"
    " end_low# end_high# sure_months% proposal months% by sentence rests_on missing edit",
    "wanted": "tag part supply pieces% wanted_on@ got_on@ dropped_on@ reason note",
    "media": "medium role size unit condition from_date@ uses% most_uses% left% last_used@ checked_on@ result"
    " check_every_months% check_due@ retired_on@ retired_reason note",
    "attachments": "tag number% title media_type size% taken_on@ service note",
    "condition checks": "tag checked_on@ occasion grade condition by loan readings* photos*",
    "safety checks": "tag checked_on@ result by rule good_through@ note says",
    "damage": "damage tag kind found_on@ what circumstances reported_on@ reported_by by loan estimate# currency"
    " owner_told_on@ insurer_told_on@ policy claim actions settled_on@ settled# closed_on@ outcome",
    "inventory": "tag name kind pieces% serial marks photos% location owner standing last_seen@ evidence by"
    " not_found_on@",
    "sightings": "seen_on@ tag says location shelf_check? by note",
    "places": "tag location from_date@ until@ by note",
    "arrivals": "entry_number tag model arrived_on@ from reason return_by@ days_over% receipt_on@",
    "loaned units": "loan direction tag person out_on@ due_on@ back_on@ days_over% along purpose deposit# currency"
    " condition_out condition_back along_missing cover agreement issued_by taken_by deposit_back_on@ deposit_back#"
    " unsafe",
    "reservations": "tag person from_date@ to_date@ state loan purpose closed_on@ reason",
    "disposals": "tag model left_on@ how reason to authority price# currency receipt_on@ note",
    "history": "act% at! today@ by command summary reason undoes% undone_by%",
}
# What a cell of the workbook's form is here. A model may have several nominal speeds, in one cell.
_KINDS = {
    **dict.fromkeys((book_columns.TEXT, book_columns.AS_TYPED), TEXT),
    **dict.fromkeys((book_columns.NUMBER, book_columns.MONEY), NUMBER),
    book_columns.WHOLE: WHOLE,
    book_columns.DAY: DAY,
    book_columns.YES_NO: YES_NO,
}
_SEVERAL = {("models", "nominal_speed")}
_IN, _GRADE = "in", "grade"


def list_names() -> tuple[str, ...]:
    """Return the names of all lists: those of the CSV form, then those that are worked out."""
    return (*book_columns.sheets(), *_COLUMNS)


def list_columns(name: str) -> dict[str, str]:
    """Return the columns of a list with their kinds. Raises Refused for an unknown list, naming the nearest."""
    if name in _COLUMNS:
        words = _COLUMNS[name].split()
        return {word.rstrip("@!#%?*"): _MARKS.get(word[-1], TEXT) for word in words}
    if name not in book_columns.sheets():
        near = nearest(name, list_names()) or list_names()
        raise Refused(f"There is no list {name!r}.", f"There are: {', '.join(near)}.")
    columns: dict[str, str] = {}
    for column in book_columns.sheets()[name].columns:
        if column.kind == book_columns.SHOWN:
            columns[column.column.replace(" ", "_")] = DAY if name == "units" else TEXT
        else:
            columns[column.column] = TEXT if (name, column.column) in _SEVERAL else _KINDS[column.kind]
    if name == "readings":
        columns[_GRADE] = TEXT
    return {**columns, KEY: TEXT}


def list_rows(conn: Connection, name: str, today: date) -> Iterable[Row]:
    """Return the rows of a list as of a day, in the order in which the program lists them."""
    return _WORKED_OUT[name](conn, today) if name in _WORKED_OUT else _records(conn, name, today)


def _records(conn: Connection, name: str, today: date) -> Iterator[Row]:
    form = book_columns.sheets()[name]
    names = [column.column for column in form.marked]
    shown = next((each.column.replace(" ", "_") for each in form.columns if each.kind == book_columns.SHOWN), _IN)
    for row in sheet_rows(conn, form.file, today):
        cells = dict(zip(names, row.cells, strict=True), **{shown: row.shown, KEY: row.key})
        if name == "readings" and cells["value"][:1].isalpha():
            cells |= {"value": "", _GRADE: cells["value"]}
        yield cells


def _due(conn: Connection, today: date) -> Iterable[Row]:
    from collection.store.book import open_book
    from collection.views.due import due_view
    from collection.views.list_rows import due_rows
    from collection.views.recheck import recheck_dates
    from collection.views.service_guide import open_guides

    settings = open_book(conn).settings
    guided = {each.unit_id: each.said(settings.date_form) for each in open_guides(conn)}
    return due_rows(due_view(conn, today, _DUE_WITHIN, recheck_dates(conn, today, settings.risk)), guided)


def _stock(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.list_rows import lot_row
    from collection.views.stock import stock

    return (lot_row(row, today) for row in stock(conn, today).rows)


def _reorder(conn: Connection, today: date) -> Iterable[Row]:
    from collection.analysis.stock_plan.plan import plan_supply
    from collection.store.book import open_book
    from collection.views.list_rows import reorder_row
    from collection.views.recheck import recheck_dates
    from collection.views.stock_groups import groups_of
    from collection.views.stock_plan import stock_plan

    rechecks = recheck_dates(conn, today, open_book(conn).settings.risk)
    for group in groups_of(stock_plan(conn, today, rechecks=rechecks, plan=plan_supply)):
        by = (group.parcel.order_by or today) if group.parcel else None
        for row in group.rows:
            yield reorder_row(row) | {"parcel_by": by}


def _consumption(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.consumption import consumption
    from collection.views.list_rows import use_row

    return map(use_row, consumption(conn, today))


def _unit_consumption(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.list_rows import unit_use_row
    from collection.views.unit_consumption import units_use

    found = units_use(conn, today)
    return (unit_use_row(each, found.currency) for each in found.rows)


def _intervals(conn: Connection, today: date) -> Iterable[Row]:
    from collection.store.book import open_book
    from collection.views.intervals import intervals
    from collection.views.list_rows import interval_row

    return map(interval_row, intervals(conn, today, open_book(conn).settings.risk).rows)


def _wanted(conn: Connection, _today: date) -> Iterable[Row]:
    from collection.views.list_rows import wanted_row
    from collection.views.wanted import wanted_list

    return map(wanted_row, wanted_list(conn))


def _media(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.list_rows import medium_row
    from collection.views.media import media_rows

    return map(medium_row, media_rows(conn, today))


def _attachments(conn: Connection, _today: date) -> Iterable[Row]:
    from collection.views.attachments import attachments_by_unit

    return (each._asdict() for listed in attachments_by_unit(conn).values() for each in listed)


def _condition_checks(conn: Connection, _today: date) -> Iterable[Row]:
    from collection.views.condition_checks import condition_checks
    from collection.views.custody_rows import condition_row

    return map(condition_row, condition_checks(conn))


def _safety_checks(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.safety import all_safety_rows

    return (row._asdict() for row in all_safety_rows(conn, today))


def _damage(conn: Connection, _today: date) -> Iterable[Row]:
    from collection.views.custody_rows import damage_row
    from collection.views.damage import damage_list

    return map(damage_row, damage_list(conn))


def _inventory(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.inventory import inventory
    from collection.views.unit_list import Wanted

    return (row._asdict() for row in inventory(conn, today, Wanted(), gone_too=True))


def _sightings(conn: Connection, _today: date) -> Iterable[Row]:
    from collection.views.shelf_check import sightings

    return (row._asdict() for row in sightings(conn))


def _places(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.unit_places import places_by_unit

    return ({"tag": tag, **each._asdict()} for tag, stood in places_by_unit(conn, today).items() for each in stood)


def _arrivals(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.custody_rows import entry_row
    from collection.views.entries import entry_list

    return map(entry_row, entry_list(conn, today))


def _loaned_units(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.custody_rows import loan_row
    from collection.views.loans import loan_list
    from collection.views.loans_unsafe import unsafe_out

    rows = loan_list(conn, today, closed_too=True)
    unsafe = unsafe_out(conn, rows, today)
    return (loan_row(row, unsafe.get(row.item_id, "")) for row in rows)


def _reservations(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.custody_rows import reservation_row
    from collection.views.reservations import reservation_list

    return (reservation_row(row, today) for row in reservation_list(conn, today, closed_too=True))


def _disposals(conn: Connection, today: date) -> Iterable[Row]:
    from collection.views.custody_rows import exit_row
    from collection.views.exits import exit_list

    return map(exit_row, exit_list(conn, today))


def _history(conn: Connection, _today: date) -> Iterable[Row]:
    from collection.views.history import acts

    return (act.as_row() for act in acts(conn))


_WORKED_OUT: dict[str, Callable[[Connection, date], Iterable[Row]]] = {
    "due": _due,
    "stock": _stock,
    "reorder": _reorder,
    "consumption": _consumption,
    "unit consumption": _unit_consumption,
    "intervals": _intervals,
    "wanted": _wanted,
    "media": _media,
    "attachments": _attachments,
    "condition checks": _condition_checks,
    "safety checks": _safety_checks,
    "damage": _damage,
    "inventory": _inventory,
    "sightings": _sightings,
    "places": _places,
    "arrivals": _arrivals,
    "loaned units": _loaned_units,
    "reservations": _reservations,
    "disposals": _disposals,
    "history": _history,
}
