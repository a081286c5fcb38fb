"""Which offer covers a needed quantity for the least money."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from collection.analysis.netting import packs_needed
from collection.errors import Refused


class Offer(NamedTuple):
    """One price of one supplier for one supply.

    pack_steps: steps in a pack; price_minor: of one pack, in minor units of `currency`, for orders of at
    least `from_packs` packs (it then holds for all of them); minimum_packs: the supplier's least order;
    shipping_minor: once per order.
    """

    id: int
    supplier: int
    pack_steps: int
    price_minor: int
    currency: str
    from_packs: int = 1
    minimum_packs: int | None = None
    lead_days: int | None = None
    shipping_minor: int = 0


class Quote(NamedTuple):
    """An offer, the packs to order, the steps in them and what they cost with shipping, in minor units."""

    offer: Offer
    packs: int
    steps: int
    total_minor: int


def choose_offer(needed: int, offers: Iterable[Offer], currency: str) -> Quote | None:
    """Return the cheapest quote that covers `needed` steps, None if nothing is needed or offered.

    Each offer is priced at the fewest whole packs that its break and minimum allow, so a break at which
    buying more costs less is found. Equal totals: shorter lead time (unknown last), then fewer steps, then
    offer id. Offers in another currency are left out: sums of two currencies have no order without a rate.
    Raises Refused for a pack below one step or a need below zero.
    """
    if needed < 0:
        raise Refused(f"Cannot buy {needed} steps: a need is zero or more.", "Correct the amount.")
    quotes = [_quote(needed, offer) for offer in offers if offer.currency == currency]
    return min(quotes, key=_rank, default=None) if needed else None


def say_packs(number: int) -> str:
    """Return a number of packs in words: "1 pack", "2 packs"."""
    return "1 pack" if number == 1 else f"{number} packs"


def price_of(offers: Iterable[Offer], packs: int, currency: str) -> Offer | None:
    """Return the offer that so many packs are priced by: the cheapest a pack of those that begin at so many or fewer.

    Offers in `currency` go first. None where every one begins at more packs.
    """
    open_to = [each for each in offers if each.from_packs <= packs]
    return min(open_to, key=lambda each: (each.currency != currency, each.price_minor, each.id), default=None)


def _quote(needed: int, offer: Offer) -> Quote:
    least = max(offer.from_packs, offer.minimum_packs or 1)
    packs = packs_needed(needed, offer.pack_steps, least)
    return Quote(offer, packs, packs * offer.pack_steps, packs * offer.price_minor + offer.shipping_minor)


def _rank(quote: Quote) -> tuple[int, bool, int, int, int]:
    lead = quote.offer.lead_days
    return (quote.total_minor, lead is None, lead or 0, quote.steps, quote.offer.id)
