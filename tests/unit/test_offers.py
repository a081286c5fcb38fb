"""Which offer costs least for a needed quantity."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collection.analysis.offers import Offer, Quote, choose_offer
from collection.errors import Refused

# Breaks of the quantity discount example (hospital liquid cleaner) in Stevenson, Operations Management,
# inventory chapter: cases at 20.00, from 50 at 18.00, from 80 at 17.00, from 100 at 16.00, for all of them.
BREAKS = [
    Offer(number, 1, 1, price, "USD", from_packs)
    for number, (from_packs, price) in enumerate([(1, 2000), (50, 1800), (80, 1700), (100, 1600)])
]


@pytest.mark.parametrize(
    ("needed", "packs", "total"),
    [
        (44, 44, 88000),
        (45, 45, 90000),  # 45 x 20.00 = 50 x 18.00: a tie, which the fewer cases win
        (46, 50, 90000),
        (75, 75, 135000),
        (76, 80, 136000),
        (94, 94, 159800),
        (95, 100, 160000),
        (100, 100, 160000),
        (101, 101, 161600),
    ],
)
def test_buying_up_to_a_break_is_chosen_where_it_costs_less(needed: int, packs: int, total: int) -> None:
    """Below, at and above the points where the next break becomes cheaper."""
    quote = choose_offer(needed, BREAKS, "USD")

    assert quote is not None
    assert (quote.packs, quote.total_minor) == (packs, total)


def test_whole_packs_of_different_sizes_are_compared_by_what_is_paid() -> None:
    """Two tubes of 50 g cost more than one of 100 g for 60 g, but one of 50 g costs less for 50 g."""
    small, large = Offer(1, 1, 5000, 1800, "EUR"), Offer(2, 1, 10000, 3000, "EUR")

    assert choose_offer(6000, [small, large], "EUR") == Quote(large, 1, 10000, 3000)
    assert choose_offer(5000, [small, large], "EUR") == Quote(small, 1, 5000, 1800)


def test_the_least_order_and_the_shipping_are_paid_for() -> None:
    """One cheap pack that must be bought five at a time, or shipped dearly, may lose."""
    cheap, dear = Offer(1, 1, 10, 100, "EUR", minimum_packs=5), Offer(2, 2, 10, 499, "EUR")

    assert choose_offer(10, [cheap, dear], "EUR") == Quote(dear, 1, 10, 499)
    assert choose_offer(10, [cheap, dear._replace(shipping_minor=2)], "EUR") == Quote(cheap, 5, 50, 500)


def test_equal_totals_are_decided_by_lead_time_then_steps_then_id() -> None:
    """The same data gives the same answer, in whatever order the offers come."""
    offers = [
        Offer(1, 1, 20, 500, "EUR", lead_days=None),
        Offer(5, 1, 20, 500, "EUR", lead_days=9),
        Offer(2, 1, 30, 500, "EUR", lead_days=3),
        Offer(4, 1, 20, 500, "EUR", lead_days=3),
        Offer(3, 1, 20, 500, "EUR", lead_days=3),
    ]
    ranked = []
    while offers:
        quote = choose_offer(15, offers, "EUR")
        assert quote is not None
        ranked.append(quote.offer.id)
        offers.remove(quote.offer)

    assert ranked == [3, 4, 2, 5, 1]


def test_sums_of_two_currencies_are_not_compared() -> None:
    """Only offers in the currency asked for are looked at; without one there is no choice."""
    euro, krona = Offer(1, 1, 10, 500, "EUR"), Offer(2, 1, 10, 400, "SEK")

    assert choose_offer(10, [euro, krona], "EUR") == Quote(euro, 1, 10, 500)
    assert choose_offer(10, [krona], "EUR") is None


def test_no_need_buys_nothing() -> None:
    """Zero is no order, even where an offer asks for a least order; less than zero is a mistake."""
    assert choose_offer(0, [Offer(1, 1, 10, 500, "EUR", minimum_packs=3)], "EUR") is None
    with pytest.raises(Refused, match="Cannot buy -1 steps: a need is zero or more"):
        choose_offer(-1, [], "EUR")


offer_lists = st.lists(
    st.builds(
        Offer,
        st.just(0),
        st.just(1),
        st.integers(1, 7),
        st.integers(0, 90),
        st.just("EUR"),
        st.integers(1, 6),
        st.none() | st.integers(1, 4),
        st.none() | st.integers(0, 20),
        st.integers(0, 40),
    ),
    min_size=1,
    max_size=5,
).map(lambda offers: [offer._replace(id=number) for number, offer in enumerate(offers)])


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 30), offer_lists, st.randoms(use_true_random=False))
def test_no_allowed_number_of_packs_costs_less(needed: int, offers: list[Offer], dice: random.Random) -> None:
    """Against trying every number of packs of every offer; independent of the order of the offers."""
    totals = [
        packs * offer.price_minor + offer.shipping_minor
        for offer in offers
        for packs in range(1, 40)
        if packs * offer.pack_steps >= needed and packs >= max(offer.from_packs, offer.minimum_packs or 1)
    ]
    shuffled = list(offers)
    dice.shuffle(shuffled)

    quote = choose_offer(needed, offers, "EUR")

    assert quote is not None
    assert quote.total_minor == min(totals)
    assert quote.steps == quote.packs * quote.offer.pack_steps >= needed
    assert choose_offer(needed, shuffled, "EUR") == quote
