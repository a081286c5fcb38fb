"""Suppliers and what they offer: packs, prices from so many packs on, the least order."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import currency_given, price_given, read_amount
from collection.acts.edit import Edited, Given, edit_record
from collection.acts.movements import name_given
from collection.acts.work import open_work
from collection.analysis.offers import Offer, say_packs
from collection.errors import Refused, fold, typed
from collection.quantity import Money
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.orders import Supplier, find_supplier, offers
from collection.views.supplies import Supply, find_supply


def add_supplier(
    engine: Engine,
    name: str,
    *,
    lead_days: int | None = None,
    shipping: str = "",
    currency: str = "",
    today: date,
    now: datetime,
) -> str:
    """Add a supplier; returns its name. Raises Refused for a name that is given."""
    with open_work(engine, "order supplier", today=today, now=now) as work:
        bare = name_given("supplier", name)
        sql = "SELECT name FROM supplier WHERE name_folded = :name AND void = 0"
        if fetch(work.conn, sql, name=fold(bare)):
            raise Refused(f'There is a supplier "{bare}" already.', "Type: spindlebook order suppliers")
        money = price_given("Shipping", shipping, _currency(work.conn, currency)) if shipping else None
        work.insert(
            "supplier",
            name=bare,
            name_folded=fold(bare),
            lead_days=lead_days,
            shipping_minor=None if money is None else money.minor,
            currency=_currency(work.conn, currency) if shipping or currency else None,
        )
        work.commit(f'added the supplier "{bare}"')
    return bare


def add_offer(
    engine: Engine,
    supplier: str,
    supply: str,
    pack: str,
    price: str,
    *,
    currency: str = "",
    from_packs: int = 1,
    minimum_packs: int | None = None,
    lead_days: int | None = None,
    today: date,
    now: datetime,
) -> str:
    """Add what a supplier asks for one pack of a supply, from so many packs on; returns it in words.

    Raises Refused for unknown names, what is no amount or sum, and an offer for such packs from as many on that stands.
    """
    with open_work(engine, "order offer", today=today, now=now) as work:
        seller, wanted = find_supplier(work.conn, supplier), find_supply(work.conn, supply)
        amount = read_amount(wanted, pack)
        money = price_given("A price", price, _currency(work.conn, currency))
        _refuse_twice(work.conn, seller, wanted, amount.steps, from_packs)
        work.insert(
            "offer",
            supplier_id=seller.id,
            supply_id=wanted.id,
            pack_steps=amount.steps,
            entered=f"{amount.entered} {amount.entered_in}",
            price_minor=money.minor,
            currency=money.currency,
            from_packs=from_packs,
            minimum_packs=minimum_packs,
            lead_days=lead_days,
        )
        did = f'"{seller.name}" offers {wanted.show(amount.steps)} of "{wanted.name}" for {money.text} {money.currency}'
        work.commit(did)
    return did


def edit_offer(
    engine: Engine,
    supplier: str,
    supply: str,
    given: Given,
    *,
    pack: str = "",
    which: int | None = None,
    reason: str = "",
    today: date,
    now: datetime,
) -> Edited:
    """Change an offer of a supplier for a supply; pack, which: what it holds and from how many packs on it holds.

    given: pack_quantity, price, from_packs, minimum_packs, lead_days. Raises Refused as `edit_record` does, and where
    none or several offers are meant.
    """
    told = dict(given)

    def find(conn: Connection) -> tuple[int, str]:
        seller, wanted = find_supplier(conn, supplier), find_supply(conn, supply)
        if told.get("pack_quantity"):
            told["pack_quantity"] = f"{wanted.id}:{told['pack_quantity']}"
        return _which(conn, seller, wanted, pack, which).id, f'offer of "{seller.name}" for "{wanted.name}"'

    return edit_record(engine, "order edit-offer", "offer", find, told, reason=reason, today=today, now=now)


def drop_offer(
    engine: Engine, supplier: str, supply: str, *, pack: str = "", which: int | None = None, today: date, now: datetime
) -> str:
    """Take out what a supplier no longer offers; returns it in words. Raises Refused as `edit_offer` does."""
    with open_work(engine, "order drop-offer", today=today, now=now) as work:
        seller, wanted = find_supplier(work.conn, supplier), find_supply(work.conn, supply)
        offer = _which(work.conn, seller, wanted, pack, which)
        work.set_void("offer", [offer.id], True)
        did = f'"{seller.name}" no longer offers {_told(wanted, offer)} of "{wanted.name}"'
        work.commit(did)
    return did


def _which(conn: Connection, seller: Supplier, supply: Supply, pack: str, from_packs: int | None) -> Offer:
    """Return the one offer that is meant."""
    listed = [each for each in offers(conn).get(supply.id, ()) if each.supplier == seller.id]
    steps = read_amount(supply, pack).steps if pack else None
    found = [each for each in listed if steps in (None, each.pack_steps) and from_packs in (None, each.from_packs)]
    if len(found) == 1:
        return found[0]
    if not listed:
        raise Refused(f'"{seller.name}" offers no "{supply.name}".', "What is offered: spindlebook order offers")
    has, first = f"{len(found)} offers" if found else "no such offer", (found or listed)[0]
    raise Refused(
        f'"{seller.name}" has {has} for "{supply.name}": {", ".join(_told(supply, each) for each in listed)}.',
        f'Say which: --of "{supply.show(first.pack_steps)}" --which {first.from_packs}',
    )


def _told(supply: Supply, offer: Offer) -> str:
    return f"{supply.show(offer.pack_steps)} from {say_packs(offer.from_packs)} on"


def _refuse_twice(conn: Connection, seller: Supplier, supply: Supply, steps: int, from_packs: int) -> None:
    """Refuse a second price for the same packs from as many on."""
    for each in offers(conn).get(supply.id, ()):
        if (each.supplier, each.pack_steps, each.from_packs) == (seller.id, steps, from_packs):
            price = Money(each.price_minor, each.currency)
            raise Refused(
                f'"{seller.name}" offers "{supply.name}" by {_told(supply, each)} for {price.text} {price.currency}.',
                f"To change that, type: spindlebook order edit-offer {typed(seller.name)} {typed(supply.name)}"
                " --price PRICE",
            )


def _currency(conn: Connection, told: str) -> str:
    return currency_given(told, open_book(conn).settings.currency)
