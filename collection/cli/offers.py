"""order supplier, suppliers, offer, offers, edit-offer, drop-offer: who sells what, in which packs, for how much."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import first_of_group, in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_supply
from collection.cli.whole import Whole
from collection.errors import typed

if TYPE_CHECKING:
    from collection.views.offer_list import OfferRow, SupplierRow
    from collection.views.orders import Supplier

_SUPPLY = click.argument("supply", shell_complete=complete_supply)
_OF = click.option("--of", "pack", default="", metavar="AMOUNT", help="Of several, the one whose pack holds so much.")
_WHICH = click.option("--which", type=Whole(min=1), metavar="PACKS", help="And from so many packs on.")


@click.command("supplier")
@click.argument("name")
@click.option("--lead-days", type=Whole(0, 3650), metavar="DAYS", help="From order to arrival.")
@click.option("--shipping", default="", metavar="AMOUNT", help="What one order costs to send.")
@click.option("--currency", default="", metavar="CODE", help="As EUR (else the book's).")
@click.pass_obj
def supplier_command(face: Face, /, name: str, **told: Any) -> None:
    """Add a supplier."""
    from collection.acts.offers import add_supplier

    added = add_supplier(face.engine(), name, **told, today=face.today, now=face.now)
    say(f'Added the supplier "{added}".', f"Next: spindlebook order offer {typed(added)} SUPPLY PACK PRICE")


@click.command("suppliers")
@sort_option
@past_options
@output_options
@click.pass_obj
def suppliers_command(face: Face, /, sort: str, mode: Mode) -> None:
    """List suppliers with how long they take.

    The days are those that 8 in 10 orders lie between, by their word and by past orders.

    Keys of --json: supplier, lead_days (their word), past_orders (list of days), usual_days, least_days, most_days,
    shipping, currency, offers (how many), note.
    """
    from collection.views.offer_list import supplier_list

    with face.view() as connection:
        rows = [_supplier(row) for row in supplier_list(connection)]
    empty = "No supplier. Add one: spindlebook order supplier NAME"
    emit(
        in_order(rows, _SUPPLIERS, sort),
        _SUPPLIERS_SHOWN if mode == "table" else _SUPPLIERS,
        mode,
        empty=empty,
        under="note",
    )


@click.command("offer")
@click.argument("supplier")
@_SUPPLY
@click.argument("pack")
@click.argument("price")
@click.option("--currency", default="", metavar="CODE", help="As EUR (else the book's).")
@click.option("--from-packs", type=Whole(1, 10_000), default=1, help="The price holds from so many packs on.")
@click.option("--minimum-packs", type=Whole(1, 10_000), help="The least order.")
@click.option("--lead-days", type=Whole(0, 3650), metavar="DAYS", help="Where it differs from the supplier's.")
@click.pass_obj
def offer_command(face: Face, /, supplier: str, supply: str, pack: str, price: str, **told: Any) -> None:
    """Add what a supplier asks for one pack of a supply.

    PACK is what one holds, as "50 g"; PRICE is that of one pack. A lower price from more packs on is an offer of its
    own, with --from-packs.
    """
    from collection.acts.offers import add_offer

    did = add_offer(face.engine(), supplier, supply, pack, price, **told, today=face.today, now=face.now)
    say(f"{did}.")


@click.command("offers")
@click.option("--supplier", default="", metavar="NAME", help="Only what this supplier offers.")
@click.option("--supply", default="", metavar="SUPPLY", shell_complete=complete_supply, help="Only this supply.")
@sort_option
@past_options
@output_options
@click.pass_obj
def offers_command(face: Face, /, sort: str, mode: Mode, **wanted: str) -> None:
    """List what suppliers offer, and at what price.

    Each offer with its pack, the packs from which its price holds, the least order and the shipping.

    Keys of --json: supplier, supply, pack_quantity (in measured_in), measured_in, price (of one pack), currency,
    from_packs, minimum_packs, lead_days, shipping (once an order; null where it is in another currency).
    """
    from collection.views.offer_list import offer_list

    with face.view() as connection:
        rows = [_offer(row) for row in offer_list(connection)]
    chosen = first_of_group(in_order(naming(rows, **wanted), _OFFERS, sort))
    empty = "No offer. Add one: spindlebook order offer SUPPLIER SUPPLY PACK PRICE"
    emit(chosen, _OFFERS_SHOWN if mode == "table" else _OFFERS, mode, empty=empty, above="group")


@click.command("edit-offer")
@click.argument("supplier")
@_SUPPLY
@_OF
@_WHICH
@field_options(
    ("pack", "AMOUNT", 'What one pack holds, as "50 g".'),
    ("price", "AMOUNT", 'Of one pack, as 12.50 or "12.50 EUR".'),
    ("from-packs", "NUMBER", "The price holds from so many packs on."),
    ("minimum-packs", "NUMBER", "The least order."),
    ("lead-days", "DAYS", "Where it differs from the supplier's."),
    named={"pack": "pack_quantity"},
)
@click.pass_obj
def edit_offer_command(
    face: Face, /, supplier: str, supply: str, pack: str, which: int | None, reason: str, **told: Any
) -> None:
    """Change what a supplier asks for a supply.

    Orders that were placed keep what they were placed for.
    """
    from collection.acts.offers import edit_offer

    at: dict[str, Any] = {"today": face.today, "now": face.now}
    given = given_of(told)
    tell_edited(edit_offer(face.engine(), supplier, supply, given, pack=pack, which=which, reason=reason, **at))


@click.command("drop-offer")
@click.argument("supplier")
@_SUPPLY
@_OF
@_WHICH
@click.pass_obj
def drop_offer_command(face: Face, supplier: str, supply: str, pack: str, which: int | None) -> None:
    """Take out what a supplier no longer offers."""
    from collection.acts.offers import drop_offer

    did = drop_offer(face.engine(), supplier, supply, pack=pack, which=which, today=face.today, now=face.now)
    say(f"{did}.")


def _supplier(row: SupplierRow) -> dict[str, Any]:
    from collection.quantity import Money

    supplier, usual = row.supplier, row.usual
    priced = supplier.shipping_minor is not None and supplier.currency is not None
    return {
        "supplier": supplier.name,
        "lead_days": supplier.lead_days,
        "past_orders": list(row.observed),
        "usual_days": usual and round(usual.mean),
        "least_days": usual and usual.low,
        "most_days": usual and usual.high,
        "comes": f"{usual.low} to {usual.high} days" if usual else "nobody knows",
        "shipping": Money(supplier.shipping_minor or 0, supplier.currency or "").text if priced else None,
        "sent_for": _sum(supplier.shipping_minor or 0, supplier.currency or "") if priced else None,
        "currency": supplier.currency,
        "offers": row.offers,
        "note": row.note,
    }


def _offer(row: OfferRow) -> dict[str, Any]:
    from collection.quantity import Money

    offer, supply = row.offer, row.supply
    return {
        "supplier": row.supplier.name,
        "supply": supply.name,
        "pack_quantity": offer.pack_steps * supply.step,
        "measured_in": supply.measured_in,
        "pack": supply.show(offer.pack_steps),
        "asked": _sum(offer.price_minor, offer.currency),
        "group": _group(row.supplier),
        "price": Money(offer.price_minor, offer.currency).text,
        "currency": offer.currency,
        "from_packs": offer.from_packs,
        "minimum_packs": offer.minimum_packs,
        "lead_days": offer.lead_days,
        "shipping": Money(offer.shipping_minor, offer.currency).text if offer.shipping_minor else None,
    }


def _group(supplier: Supplier) -> str:
    """Return what stands above the offers of a supplier."""
    if not supplier.shipping_minor or not supplier.currency:
        return supplier.name
    return f"{supplier.name}: {_sum(supplier.shipping_minor, supplier.currency)} shipping, once an order"


def _sum(minor: int, currency: str) -> str:
    from collection.quantity import Money

    return f"{Money(minor, currency).text} {currency}"


def _orders(days: Sequence[int]) -> str:
    return ", ".join(f"{each}" for each in days[-5:]) + (" days" if days else "")


_SUPPLIERS = [
    Column(key)
    for key in (
        "supplier", "lead_days", "past_orders", "usual_days", "least_days", "most_days", "shipping", "currency",
        "offers", "note",
    )
]  # fmt: skip
_SUPPLIERS_SHOWN = [
    Column("supplier"),
    Column("lead_days", "their word", show=lambda days: "" if days is None else f"{days} days", right=False),
    Column("past_orders", "past orders", show=_orders),
    Column("comes", "8 in 10 take"),
    Column("sent_for", "shipping", right=True),
    Column("offers"),
]
_OFFERS = [
    Column(key)
    for key in (
        "supplier", "supply", "pack_quantity", "measured_in", "price", "currency", "from_packs", "minimum_packs",
        "lead_days", "shipping",
    )
]  # fmt: skip
_OFFERS_SHOWN = [
    Column("supply"),
    Column("pack", right=True),
    Column("asked", "a pack at", right=True),
    Column("from_packs", "from packs"),
    Column("minimum_packs", "least packs"),
    Column("lead_days", "days"),
]
