"""supply list, show and history: look at supplies."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say
from collection.cli.tags import complete_supply
from collection.cli.whole import Whole

if TYPE_CHECKING:
    from datetime import date

    from collection.views.movements import HistoryRow
    from collection.views.orders import OrderLine
    from collection.views.supplies import Supply
    from collection.views.supply_card import SupplyCard

_RECORD = (
    "smallest_step density polymer thickener strength size fits shelf_life_months open_life_months wanted_chance"
    " guess_a_year written_since note"
)


@click.command("list")
@click.option("--kind", default="", metavar="WORD", help="Only supplies of this kind.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, kind: str, sort: str, mode: Mode) -> None:
    """List supplies with what the book has of each.

    Keys of --json: supply, kind, measured_in, tracked, quantity (in measured_in), smallest_step, density, polymer,
    thickener, strength, size, fits, shelf_life_months, open_life_months, wanted_chance, guess_a_year,
    written_since, note.
    """
    from collection.views.supply_card import listed_supplies

    with face.view() as connection:
        listed = listed_supplies(connection, face.today)
    rows = [
        {"supply": supply.name, **record, "quantity": steps * supply.step, "shown": supply.show(steps)}
        for supply, record, steps in listed
    ]
    chosen = in_order(naming(rows, kind=kind), _LISTED_FOR_PROGRAMS, sort)
    emit(chosen, _LISTED if mode == "table" else _LISTED_FOR_PROGRAMS, mode, empty="No supply.")


@click.command("show")
@click.argument("supply", shell_complete=complete_supply)
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, supply: str, as_json: bool) -> None:
    """Show the card of a supply.

    What it is, its lots, what takes it, who sells it, what is on order.

    Keys of --json: supply (and the columns of supplies.csv), guess_a_year, written_since,
    source, lots, takes, offers, orders, cautions.
    """
    from collection.views.supply_card import supply_card

    with face.view() as connection:
        card = supply_card(connection, supply, face.today)
    if as_json:
        emit_object(_card_object(card, face.today))
    else:
        say(*_card_lines(card))


@click.command("history")
@click.argument("supply", shell_complete=complete_supply)
@click.option("--last", type=Whole(min=1), default=20, show_default=True, help="How many movements.")
@click.option("--all", "everything", is_flag=True, help="All movements.")
@past_options
@output_options
@click.pass_obj
def history_command(face: Face, supply: str, last: int, everything: bool, mode: Mode) -> None:
    """Show the movements of a supply, newest first.

    The number before each is what supply reverse takes.

    Keys of --json: number, day, what, lot, location, quantity (in measured_in, below zero where it left), measured_in,
    entered, basis, planned, service, tag, procedure, past_date, doubt, reason, reverses, reversed_by, act.
    """
    from collection.store.book import open_book
    from collection.views.movements import history_of
    from collection.views.supplies import find_supply

    with face.view() as connection:
        found = find_supply(connection, supply)
        history = history_of(connection, found)
        form = open_book(connection).settings.date_form
    rows = [_movement(found, row) for row in reversed(history if everything else history[-last:])]
    emit(
        rows,
        _history_columns(form) if mode == "table" else _HISTORY_FOR_PROGRAMS,
        mode,
        empty="Nothing was booked yet.",
    )
    if mode == "table" and len(rows) < len(history):
        say(f"{len(history) - len(rows)} older ones: --all shows them.")


_LISTED = [
    Column("supply"),
    Column("kind"),
    Column("shown", "in the book", right=True),
    Column("tracked"),
    Column("size"),
]
_LISTED_FOR_PROGRAMS = [
    Column(key) for key in ("supply", "kind", "measured_in", "tracked", "quantity", *_RECORD.split())
]


def _movement(supply: Supply, row: HistoryRow) -> dict[str, Any]:
    move = row.movement
    return {
        "number": row.number,
        "day": move.occurred_on,
        "what": move.kind,
        "lot": row.lot or None,
        "location": row.place or None,
        "quantity": move.steps * supply.step,
        "measured_in": supply.measured_in,
        "shown": "" if move.kind == "open" else supply.show(move.steps),
        "entered": f"{row.entered} {row.entered_in}".rstrip(),
        "basis": row.basis or None,
        "planned": row.planned,
        "service": row.service or None,
        "tag": row.unit or None,
        "procedure": row.procedure or None,
        "past_date": row.past_date,
        "doubt": row.doubt or None,
        "reason": move.reason,
        "reverses": row.reverses,
        "reversed_by": row.reversed_by,
        "act": row.act_id,
        "remarks": "; ".join(_remarks(row)),
    }


def _remarks(row: HistoryRow) -> Iterator[str]:
    """Yield what a person is told of a movement beside its amount."""
    said = {"sheet": "by the sheet", "measured": "measured", "count": "from a count"}
    yield from (text for text in (said.get(row.basis), row.unit, row.procedure, row.movement.reason) if text)
    if row.past_date:
        yield "past its date"
    if row.doubt:
        yield f"doubtful: {row.doubt}"
    if row.reverses is not None:
        yield f"takes back {row.reverses}"
    if row.reversed_by is not None:
        yield f"taken back by {row.reversed_by}"


def _history_columns(form: str) -> list[Column]:
    from collection.quantity import show_day

    return [
        Column("number", "no."),
        Column("day", show=lambda day: show_day(day, form)),
        Column("what"),
        Column("lot"),
        Column("location"),
        Column("shown", "quantity", right=True),
        Column("remarks"),
    ]


_HISTORY = (
    "number day what lot location quantity measured_in entered basis planned service tag procedure past_date doubt"
    " reason reverses reversed_by act"
)
_HISTORY_FOR_PROGRAMS = [Column(key) for key in _HISTORY.split()]


def _card_object(card: SupplyCard, today: date) -> dict[str, Any]:
    from collection.views.list_rows import lot_row

    step = card.supply.step
    return {
        "supply": card.supply.name,
        **card.fields,
        "source": card.source or None,
        "lots": [lot_row(row, today) for row in card.stock],
        "takes": [
            {"procedure": procedure, "quantity": steps * step, "chance": chance}
            for procedure, steps, chance in card.takes
        ],
        "offers": [
            {
                "supplier": supplier,
                "pack_quantity": offer.pack_steps * step,
                "price": _price(offer.price_minor, offer.currency),
                "currency": offer.currency,
                "from_packs": offer.from_packs,
                "minimum_packs": offer.minimum_packs,
                "lead_days": offer.lead_days,
            }
            for supplier, offer in card.offers
        ],
        "orders": [
            {
                "order": line.order,
                "supplier": line.supplier,
                "ordered_on": line.ordered_on,
                "packs": line.open_packs,
                "promised_on": line.promised_on,
            }
            for line in card.orders
        ],
        "cautions": card.cautions,
    }


def _card_lines(card: SupplyCard) -> Iterator[str]:
    from collection.cli.stock import lot_line

    supply, fields = card.supply, card.fields
    yield f"{supply.name}: {supply.kind}, measured in {supply.measured_in}, tracked: {supply.tracked}"
    for caution in card.cautions:
        yield f"Caution: {caution}"
    for key in _RECORD.split():
        if fields[key] is not None:
            yield _fact(key, fields[key])
    if card.source:
        yield f"source: {card.source}"
    yield ""
    yield from (lot_line(row) for row in card.stock)
    for procedure, steps, chance in card.takes:
        often = "" if chance is None else f", {chance:g} of the times"
        yield f"taken by {procedure}: {supply.show(steps)}{often}"
    for supplier, offer in card.offers:
        price = _price(offer.price_minor, offer.currency)
        from_packs = f", from {offer.from_packs} packs" if offer.from_packs > 1 else ""
        least = f", at least {offer.minimum_packs} packs" if (offer.minimum_packs or 1) > 1 else ""
        yield f"offered by {supplier}: {supply.show(offer.pack_steps)} for {price} {offer.currency}{from_packs}{least}"
    yield from (_order_line(line) for line in card.orders)


def _fact(key: str, value: Any) -> str:
    if key == "guess_a_year":
        return f"uses nobody planned: {f'about {value:g} a year' if value else 'never'}"
    label = "every use written down since" if key == "written_since" else key.replace("_", " ")
    return f"{label}: {value}"


def _order_line(line: OrderLine) -> str:
    from collection.analysis.offers import say_packs

    promised = f", promised for {line.promised_on}" if line.promised_on else ""
    packs = say_packs(line.open_packs)
    return f'on order: {packs} from {line.supplier}, order "{line.order}" of {line.ordered_on}{promised}'


def _price(minor: int, currency: str) -> str:
    from collection.quantity import Money

    return Money(minor, currency).text
