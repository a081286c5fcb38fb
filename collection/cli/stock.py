"""stock: what is in the drawer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import click

from collection.cli.backups import said_of_old_backup
from collection.cli.face import Face
from collection.cli.option_reader import days_ahead_given
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.cli.tags import complete_supply

if TYPE_CHECKING:
    from datetime import date

    from collection.views.stock import Stock, StockRow


_MOST_FITTED = 8  # named in one line

_MOST_FITTED = 8  # named in one line


@click.command("stock")
@click.argument("supply", required=False, shell_complete=complete_supply)
@click.option("--expiring", metavar="TIME", callback=days_ahead_given, help="Only what passes its date within 90d, 3m.")
@past_options
@output_options
@click.pass_obj
def stock_command(face: Face, supply: str | None, expiring: int | None, mode: Mode) -> None:
    """Show what is in the drawer.

    Lot by lot, in the order of use. With SUPPLY also what each date rests on. A lot past its date is inspected or
    discarded; nothing takes from it unasked. Fitted belts that are past what their rubber is given are named below.

    Keys of --json: supply, lot, quantity, measured_in, received_on, expires_on (as printed), opened_on, usable_through,
    rests_on, state (a list of: next, opened, past its date, failed inspection, age unknown, low, below zero, none left,
    not counted), location, value, currency, then (once past its date: inspect, discard, inspect or discard, inspect
    before use), after_inspection (the last day that an inspection may grant).
    """
    from collection.store.book import open_book
    from collection.views.list_rows import lot_row
    from collection.views.stock import stock

    with face.view() as connection:
        found = stock(connection, face.today, supply, expiring)
        form = open_book(connection).settings.date_form
        old = said_of_old_backup(face, connection) if mode == "table" else []
    asked = {"resting": supply is not None, "passing": expiring is not None}
    columns = _columns(form, **asked) if mode == "table" else _FOR_PROGRAMS
    rows = [lot_row(row, face.today) | (_shown(row, form, face.today) if mode == "table" else {}) for row in found.rows]
    emit(rows, columns, mode, empty=_nothing(expiring))
    tell = say if mode == "table" else note
    tell(*_below(found, expiring, form))
    note(*old)


def _shown(row: StockRow, form: str, today: date) -> dict[str, str]:
    """Return what only a person sees: the amount with its unit, a word for a lot not known, and what to do then."""
    from collection.analysis.shelf_life import INSPECT
    from collection.quantity import show_day

    if row.held is None:
        return {"shown": row.supply.show(0)}
    then, end = row.held.usable.what_then(today), row.held.usable.after_inspection
    at_most = f", good to {show_day(end.isoformat(), form)} at most" if end and then == INSPECT else ""
    return {
        "shown": row.supply.show(row.held.steps),
        "lot": row.held.lot.name if row.held.lot else "(not known)",
        "do": f"{then}{at_most}",
    }


def lot_line(row: StockRow) -> str:
    """Return one lot as a sentence."""
    if row.held is None:
        return "nothing in the book"
    name = f'lot "{row.held.lot.name}"' if row.held.lot else "of no known lot"
    until = f"usable through {row.held.usable.through}, " if row.held.usable.through else ""
    state = f" [{', '.join(row.state)}]" if row.state else ""
    return f"{name}: {row.supply.show(row.held.steps)}, {until}{row.held.usable.because}{state}"


def _nothing(expiring: int | None) -> str:
    if expiring is not None:
        return f"Nothing passes its date within {expiring} days."
    return "The drawer is empty. Type: spindlebook supply receive SUPPLY QUANTITY"


def _columns(form: str, *, resting: bool, passing: bool) -> Sequence[Column]:
    from collection.quantity import show_day

    def day(value: date | None) -> str:
        return "" if value is None else show_day(value.isoformat(), form)

    return (
        Column("supply"),
        Column("lot"),
        Column("shown", "quantity", right=True),
        Column("usable_through", "usable through", show=day),
        Column("rests_on", "which rests on", in_table=resting),
        Column("state"),
        Column("do", "then", in_table=passing),
        Column("location"),
    )


_KEYS = (
    "supply lot quantity measured_in received_on expires_on opened_on usable_through rests_on state location value"
    " currency then after_inspection"
)
_FOR_PROGRAMS = tuple(Column(key) for key in _KEYS.split())


def _below(found: Stock, expiring: int | None, form: str) -> Iterator[str]:
    """Yield the lines under the list: what to look at, what it is worth, and what is not in it."""
    from collection.views.stock import AGE_UNKNOWN, BELOW, FAILED, LOW, PAST_DATE

    for word, says in (
        (BELOW, "below zero, entries are missing, please count"),
        (LOW, "low"),
        (PAST_DATE, "past its date, inspect or discard"),
        (FAILED, "failed inspection, discard"),
    ):
        names = dict.fromkeys(row.supply.name for row in found.rows if word in row.state)
        if names:
            yield f"{says}: {'; '.join(names)}"
    unknown = dict.fromkeys(row.supply.name for row in found.unknown)
    if unknown:
        yield f"{AGE_UNKNOWN}, inspect before use: {'; '.join(unknown)}"
    if unknown or any(PAST_DATE in row.state for row in found.rows):
        yield "what to look for in a lot: spindlebook supply inspect SUPPLY LOT"
    yield from _fitted(found, expiring, form)
    worth = _worth(found)
    if worth:
        yield f"worth, at what was paid: {worth}"
    if found.not_listed:
        more, which = "1 more supply was", "it"
        if found.not_listed > 1:
            more, which = f"{found.not_listed} more supplies were", "them"
        yield f"{more} never held, and no due work needs {which}: spindlebook supply list"


def _fitted(found: Stock, expiring: int | None, form: str) -> Iterator[str]:
    """Yield which fitted parts are past what their rubber is given, or will be in the time that was asked for."""
    from collection.analysis.fitted_age import PAST
    from collection.quantity import show_day

    if not found.fitted:
        return
    named = [f"{each.tag} {each.part} since {show_day(each.fitted_on, form)}" for each in found.fitted[:_MOST_FITTED]]
    more = len(found.fitted) - len(named)
    soon = f", or within {expiring} days" if expiring else ""
    yield f"fitted {PAST}{soon}: {'; '.join(named)}" + (f"; and {more} more" if more else "")


def _worth(found: Stock) -> str:
    """Return the worth of what is left, per currency."""
    from collection.quantity import Money

    totals: dict[str, Money] = {}
    for row in found.rows:
        value = row.held.value if row.held else None
        if value is not None:
            totals[value.currency] = totals.get(value.currency, Money(0, value.currency)) + value
    return ", ".join(f"{total.text} {code}" for code, total in sorted(totals.items()))
