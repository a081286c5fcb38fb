"""Orders from the day they are placed until what they bring stands in the drawer, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.offers import add_offer, drop_offer
from collection.acts.order_receive import GivenArrival, receive_order
from collection.acts.orders import GivenLine, cancel_order, confirm_order, place_order
from collection.acts.receive import GivenLot
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.lead_times import lead_times
from collection.views.offer_list import offer_list
from collection.views.orders import order_lines
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.drawer import GREASE, Drawer
from tests.support.times import NOW, TODAY

SWAB = "foam swab, lint-free"
AT: Any = {"today": TODAY, "now": NOW}


@pytest.fixture
def drawer(engine: Engine) -> Drawer:
    """Return a drawer with grease at 9.00 for 50 g, 8.00 from 4 packs on, at least 2, and swabs in packs of 50."""
    made = Drawer(engine).add()
    made.supplier(lead_days=14, shipping="4.50")
    made.offer("50", "9.00", minimum_packs=2)
    made.offer("50", "8.00", from_packs=4)
    add_offer(engine, "Nordlager", SWAB, "50", "7.50", **AT)
    return made


def place(drawer: Drawer, *lines: GivenLine, name: str = "P1", on: str = "2026-02-01") -> Any:
    """Place an order with the one supplier."""
    return place_order(drawer.engine, "Nordlager", lines, name=name, on=on, **AT)


def receive(drawer: Drawer, *came: tuple[str, GivenLot], name: str = "P1", **told: Any) -> Any:
    """Receive of an order what came."""
    return receive_order(drawer.engine, name, [GivenArrival(*each) for each in came], **told, **AT)


def lots(drawer: Drawer) -> list[tuple[str, int | None, str | None, str | None]]:
    """Return name, price, expiry and currency of every lot."""
    sql = "SELECT name, price_minor, expires_on, currency FROM lot WHERE void = 0 ORDER BY id"
    with reading(drawer.engine) as connection:
        return [tuple(row) for row in fetch(connection, sql)]


def refused(drawer: Drawer, says: str, act: Any) -> None:
    """Hold an act to a refusal in these words that writes nothing."""
    before = digest(drawer.engine)
    with pytest.raises(Refused) as told:
        act()
    assert says in str(told.value)
    assert digest(drawer.engine) == before


@pytest.mark.parametrize(("packs", "price", "total"), [(1, 900, 1350), (3, 900, 3150), (4, 800, 3650), (5, 800, 4450)])
def test_a_line_is_priced_by_the_break_that_its_packs_reach(drawer: Drawer, packs: int, price: int, total: int) -> None:
    """Below, at and above four packs; shipping once; fewer than the least order is said, for it was placed so."""
    placed = place(drawer, GivenLine(GREASE, str(packs)))

    assert (placed.lines[0].price.minor, placed.total.minor, placed.shipping.minor) == (price, total, 450)
    assert bool(placed.notes) == (packs < 2)
    with reading(drawer.engine) as connection:
        assert [(price, "EUR")] == [(line.price_minor, line.currency) for line in order_lines(connection)]


def test_what_a_pack_holds_is_asked_where_a_supplier_has_two_sizes(drawer: Drawer) -> None:
    """A told size and price go before every offer."""
    drawer.offer("100", "15.00")

    refused(drawer, "in packs of 50 g and 100 g", lambda: place(drawer, GivenLine(GREASE, "1")))
    placed = place(drawer, GivenLine(GREASE, "2", "100 g", "14.20 USD"))
    assert placed.lines[0][2:] == ("200 g", placed.lines[0].price)
    assert (placed.lines[0].price.text, placed.lines[0].price.currency, placed.shipping) == ("14.20", "USD", None)


def test_what_came_becomes_lots_with_their_dates_and_prices_in_one_act(drawer: Drawer) -> None:
    """Two tubes of one line with different dates, the other line whole; undoing the act opens the order again."""
    place(drawer, GivenLine(GREASE, "3"), GivenLine(SWAB, "1"))
    done = receive(
        drawer,
        (GREASE, GivenLot(quantity="1", lot="A", expires_on="2027-06")),
        (GREASE, GivenLot(quantity="50 g", lot="B", expires_on="2028", pack_price="8.50")),
        (SWAB, GivenLot()),
    )

    assert lots(drawer) == [
        ("A", 900, "2027-06", "EUR"), ("B", 850, "2028", "EUR"), ("2026-03-01", 750, None, "EUR"),
    ]  # fmt: skip
    assert [(line.supply, line.open_packs) for line in done.still] == [(GREASE, 1)]
    with reading(drawer.engine) as connection:
        assert verify(connection).broken == []

    undo(drawer.engine, None, **AT)
    with reading(drawer.engine) as connection:
        assert ([3, 1], []) == ([line.open_packs for line in order_lines(connection)], lots(drawer))


def test_a_lot_is_received_once(drawer: Drawer) -> None:
    """By its name, by its order, and, unless another is meant, by what came without the order; nothing is written."""
    place(drawer, GivenLine(GREASE, "2"))
    drawer.receive("100", "A", on="2026-02-10")

    refused(drawer, '100 g of "white grease" came on 2026-02-10 as lot "A", without an order', lambda: receive(drawer))
    one = (GREASE, GivenLot(quantity="1", lot="a"))
    refused(drawer, 'has a lot "a" already', lambda: receive(drawer, one))
    receive(drawer, another=True)
    refused(drawer, 'Nothing of order "P1" is still to come: it came on 2026-03-01.', lambda: receive(drawer))


def test_a_receipt_without_its_order_names_the_order_that_waits(drawer: Drawer) -> None:
    """The order would otherwise be waited for, and the same bought twice."""
    place(drawer, GivenLine(GREASE, "2"))

    first, again = drawer.receive("100"), drawer.receive("100")
    assert any('Order "P1" waits for 2 packs of it.' in note for note in first.notes)
    assert any('Lot "2026-03-01" came on the same day.' in note for note in again.notes)


@pytest.mark.parametrize(
    ("day", "on", "says"),
    [
        ("2026-02-19", "2026-02-20", "is before 2026-02-20, the day it was named"),
        ("2026-02-20", "2026-02-20", ""),
        ("2026-02-21", "2026-01-31", 'Order "P1" was placed on 2026-02-01'),
        ("2026-02-21", "2026-02-01", ""),
        ("2036-01-30", "2026-02-20", ""),
        ("2036-01-31", "2026-02-20", "more than 3650 days"),
        ("2026-03", "2026-02-20", "names no single day"),
    ],
)
def test_a_day_is_promised_after_the_order_and_not_for_the_past(drawer: Drawer, day: str, on: str, says: str) -> None:
    """Below, at and above each limit; the day that was named last counts."""
    place(drawer, GivenLine(GREASE, "2"))
    confirm_order(drawer.engine, "P1", "2026-02-18", on="2026-02-01", **AT)
    if says:
        refused(drawer, says, lambda: confirm_order(drawer.engine, "p1", day, on=on, **AT))
    else:
        assert confirm_order(drawer.engine, "p1", day, on=on, **AT) == ("P1", "Nordlager", day, "2026-02-18")
        with reading(drawer.engine) as connection:
            assert [(day, on)] == [(line.promised_on, line.told_on) for line in order_lines(connection)]


def test_one_supply_of_an_order_is_cancelled_and_the_other_is_waited_for(drawer: Drawer) -> None:
    """What is to come of nothing cannot be confirmed."""
    place(drawer, GivenLine(GREASE, "2"), GivenLine(SWAB, "1"))

    assert [SWAB] == [line.supply for line in cancel_order(drawer.engine, "P1", [SWAB], **AT)]
    refused(
        drawer,
        f'waits for no more "{SWAB}": it was cancelled on 2026-03-01',
        lambda: cancel_order(drawer.engine, "P1", [SWAB], **AT),
    )
    cancel_order(drawer.engine, "P1", **AT)
    refused(drawer, "it was cancelled on 2026-03-01", lambda: confirm_order(drawer.engine, "P1", "2026-04-01", **AT))


def test_lead_times_are_those_of_parcels_that_came(drawer: Drawer) -> None:
    """Lines of one day are one parcel, parts of a line count once; a month alone and an undone receipt tell nothing."""
    place(drawer, GivenLine(GREASE, "2"), GivenLine(SWAB, "1"))
    receive(drawer, (GREASE, GivenLot(quantity="1")), (SWAB, GivenLot()), on="2026-02-11")
    receive(drawer, on="2026-02-25")
    place(drawer, GivenLine(GREASE, "1"), GivenLine(SWAB, "1"), name="P2")
    receive(drawer, (SWAB, GivenLot(lot="x")), name="P2", on="2026-02-15")
    receive(drawer, (GREASE, GivenLot(lot="x")), name="P2", on="2026-02-27")
    place(drawer, GivenLine(GREASE, "1"), name="P3", on="2026-01-01")
    receive(drawer, name="P3", on="2026-02")
    place(drawer, GivenLine(GREASE, "1"), name="P4")
    receive(drawer, name="P4")
    undo(drawer.engine, None, **AT)

    with reading(drawer.engine) as connection:
        assert list(lead_times(connection).values()) == [(10, 26, 14)]


def test_an_offer_is_made_once_and_no_longer_counts_when_it_is_dropped(drawer: Drawer) -> None:
    """Of several the one that is meant must be told; taking the act back brings it back."""
    refused(drawer, "50 g from 1 pack on for 9.00 EUR", lambda: drawer.offer("50", "9.50"))
    refused(drawer, "has 2 offers", lambda: drop_offer(drawer.engine, "Nordlager", GREASE, **AT))

    drop_offer(drawer.engine, "Nordlager", GREASE, pack="50 g", which=4, **AT)
    with reading(drawer.engine) as connection:
        assert [900, 750] == [row.offer.price_minor for row in reversed(offer_list(connection))]
    undo(drawer.engine, None, **AT)
    with reading(drawer.engine) as connection:
        assert 3 == len(offer_list(connection))
