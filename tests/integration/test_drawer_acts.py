"""What each act on the drawer books, and what it leaves, on both databases."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.orders import order_lines
from collection.views.supplies import find_lot, find_supply
from tests.support.books import act, add_unit, digest, scalar
from tests.support.drawer import GREASE, Drawer, left
from tests.support.times import NOW, TODAY


@pytest.fixture
def drawer(engine: Engine) -> Drawer:
    """Return a drawer with white grease in it, by 0.1 g, nothing received yet."""
    return Drawer(engine).add(density="0.9")


@pytest.fixture
def two_lots(drawer: Drawer) -> Drawer:
    """Return a drawer with lot late (10 g until 2028) and lot soon (5 g until June 2026)."""
    drawer.receive("10", "late", expires_on="2028-01", on="2026-02-01")
    drawer.receive("5", "soon", expires_on="2026-06", on="2026-02-01")
    return drawer


# --- use: first expired, first out -------------------------------------------------------------------------


def test_a_use_takes_the_lot_that_expires_first_and_then_the_next(two_lots: Drawer) -> None:
    """7 g are all 5 of the lot until June and 2 of the one until 2028 (WHO good distribution practices, glossary)."""
    booked = two_lots.use("7")

    assert {"late": 80} == left(booked)
    assert [("use", "soon", -50), ("use", "late", -20)] == two_lots.kinds()[-2:]
    assert 'used 7 g of "white grease" (lot "soon" 5 g, lot "late" 2 g)' == booked.did
    assert () == booked.notes


def test_the_rows_of_one_use_are_tied_and_keep_what_was_typed(two_lots: Drawer) -> None:
    """Both rows have one group, the number and unit as typed, the basis and the tag unplanned."""
    two_lots.use("7000 mg")
    first, second = two_lots.history()[-2:]

    assert first.movement.group == second.movement.group is not None
    assert ("7000", "mg", "measured", False) == (first.entered, first.entered_in, first.basis, first.planned)


def test_a_named_lot_is_used_whatever_expires_first(two_lots: Drawer) -> None:
    """The person at the bench knows which tube it was."""
    assert {"soon": 50, "late": 70} == left(two_lots.use("3", lot="LATE"))


@pytest.mark.parametrize(("quantity", "short"), [("14.9", 0), ("15", 0), ("15.1", 1)])
def test_what_the_book_does_not_have_is_booked_with_a_mark(two_lots: Drawer, quantity: str, short: int) -> None:
    """Below, at and above what is there: beyond it the unknown lot goes below zero and the row is doubtful."""
    booked = two_lots.use(quantity)
    doubts = [row.doubt for row in two_lots.history() if row.doubt]

    assert -short == left(booked).get("", 0)
    assert (["more than the book has: entries are missing, please count"] if short else []) == doubts
    assert bool(short) == any("0.1 g below zero: entries are missing, please count" in note for note in booked.notes)


def test_more_than_a_named_lot_has_is_booked_on_that_lot(two_lots: Drawer) -> None:
    """The lot told goes below zero, no other is touched."""
    assert {"soon": -10, "late": 100} == left(two_lots.use("6", lot="soon"))


@pytest.mark.parametrize(("day", "allowed"), [("2026-02-27", True), ("2026-02-28", True), ("2026-03-01", False)])
def test_a_lot_is_used_through_its_last_day(drawer: Drawer, day: str, allowed: bool) -> None:
    """The day of expiry itself is usable; the day after it is refused unless it is asked for."""
    drawer.receive("5", "old", expires_on="2026-02", on="2026-01-01")
    if allowed:
        assert {"old": 40} == left(drawer.use("1", on=day))
        return
    before = digest(drawer.engine)
    with pytest.raises(Refused) as refusal:
        drawer.use("1", on=day)

    assert (
        'Of 1 g of "white grease" only 0 g are within their date; lot "old" was usable through 2026-02-28'
        ' (printed expiry 2026-02). Inspect or discard it: spindlebook supply inspect "white grease" old;'
        " or add --past-date-anyway if it was used all the same."
    ) == str(refusal.value)
    assert before == digest(drawer.engine)


def test_what_was_used_past_its_date_is_marked(drawer: Drawer) -> None:
    """Fresh lots go first even then, and only rows past the date carry the mark."""
    drawer.receive("5", "old", expires_on="2026-02")
    drawer.receive("5", "new", expires_on="2027-02")
    booked = drawer.use("6", past_date_anyway=True)

    assert [("new", False), ("old", True)] == [(row.lot, row.past_date) for row in drawer.history()[-2:]]
    assert 'Past its date, and marked so: lot "old".' in booked.notes


def test_an_empty_lot_past_its_date_is_not_used_unasked(drawer: Drawer) -> None:
    """Naming a lot that is used up and past its date needs the same word as one with something left."""
    drawer.receive("5", "old", expires_on="2026-02", on="2026-01-01")
    drawer.use("5", on="2026-02-01")

    with pytest.raises(Refused, match="--past-date-anyway"):
        drawer.use("1", lot="old")


def test_a_use_remembers_the_unit_it_was_for(drawer: Drawer) -> None:
    """The tag is kept; an unknown one is refused."""
    with act(drawer.engine) as work:
        add_unit(work, "D1")
        work.commit("a unit")
    drawer.receive("5", "A")
    drawer.use("1", tag="d1", planned=True)

    assert ("D1", True) == (drawer.history()[-1].unit, drawer.history()[-1].planned)
    with pytest.raises(Refused, match='No unit has the tag "D9"'):
        drawer.use("1", tag="D9")


# --- late entries and counts -------------------------------------------------------------------------------


def test_a_late_use_does_not_empty_a_lot_that_was_used_up_later(drawer: Drawer) -> None:
    """Lot A was used up in February; a use of January entered today is taken from lot B, so nothing is below zero."""
    drawer.receive("5", "A", expires_on="2026-12", on="2025-12-01")
    drawer.receive("5", "B", expires_on="2027-12", on="2025-12-01")
    drawer.use("5", on="2026-02-01")

    assert {"B": 30} == left(drawer.use("2", on="2026-01-15"))


def test_a_late_entry_before_a_count_explains_it_and_changes_nothing_after(drawer: Drawer) -> None:
    """The count of 3 g stands; a use of the day before it, entered today, leaves 3 g and says so."""
    drawer.receive("5", "A", on="2026-01-01")
    drawer.count("3", on="2026-02-01")
    booked = drawer.use("1.5", on="2026-01-31")

    assert {"A": 30} == left(booked)
    assert ('"white grease" was counted on 2026-02-01, after this day: what is left stays as it was counted.',) == (
        booked.notes
    )


def test_a_late_entry_on_the_day_of_a_count_says_how_it_is_taken(drawer: Drawer) -> None:
    """It comes after the count, in the order of entry, and the note says what to do if it did not."""
    drawer.receive("5", "A", on="2026-01-01")
    drawer.count("3", on="2026-02-01")
    booked = drawer.use("1", on="2026-02-01")

    assert {"A": 20} == left(booked)
    assert "this is taken to come after the count" in booked.notes[0]


def test_a_count_tells_what_it_found(two_lots: Drawer) -> None:
    """Of one lot it is a fact; the book's own number beside it."""
    booked = two_lots.count("9.5", lot="late")

    assert {"soon": 50, "late": 95} == left(booked)
    assert ('The book said 10 g: 0.5 g less (lot "late" 0.5 g less).',) == booked.notes
    assert ("count", "measured", None) == _counted(two_lots)[0]


def test_a_total_over_several_lots_is_spread_and_marked_as_inferred(two_lots: Drawer) -> None:
    """A shortage goes to the opened lot first; more than the book said to the newest lot."""
    two_lots.open(lot="late")
    short = two_lots.count("14")
    more = two_lots.count("20")

    assert {"soon": 50, "late": 90} == left(short)
    assert {"soon": 110, "late": 90} == left(more)
    assert ('The book said 15 g: 1 g less (lot "late" 1 g less, inferred).',) == short.notes
    assert [("count", "count", "only the total over several lots was counted")] * 4 == _counted(two_lots)


def _counted(drawer: Drawer) -> list[tuple[str, str, str | None]]:
    rows = [row for row in drawer.history() if row.movement.kind == "count"]
    return [(row.movement.kind, row.basis, row.movement.reason) for row in rows]


def test_the_first_count_of_a_supply_without_lots_is_its_opening_balance(drawer: Drawer) -> None:
    """What was there before the book began is of no known lot."""
    assert {"": 125} == left(drawer.count("12.5"))


def test_a_count_after_too_much_was_used_puts_what_is_there_on_the_newest_lot(drawer: Drawer) -> None:
    """Nobody can say of which lot it is; the newest is the likeliest, and the unknown lot is settled."""
    drawer.receive("5", "A")
    drawer.use("7")

    assert {"A": 40} == left(drawer.count("4"))


def test_a_count_of_nothing_empties_every_lot(two_lots: Drawer) -> None:
    """Zero is a count like any other."""
    booked = two_lots.count("0")

    assert ({}, 0) == (left(booked), booked.total)


def test_the_same_count_again_changes_nothing(two_lots: Drawer) -> None:
    """The second of two equal counts finds no difference."""
    first, second = two_lots.count("14"), two_lots.count("14")

    assert left(first) == left(second)
    assert ("The book said the same.",) == second.notes


# --- receive -----------------------------------------------------------------------------------------------


def test_a_receipt_opens_a_lot_with_all_that_was_told(drawer: Drawer) -> None:
    """Name, day, price of the whole lot, supplier, dates as printed, place."""
    drawer.supplier()
    drawer.place("shelf 3")
    drawer.receive(
        "50",
        "A1",
        price="9.00",
        supplier="nordlager",
        expires_on="2028-06",
        made="2/25",
        location="Shelf 3",
        on="2026-02",
    )
    with reading(drawer.engine) as connection:
        lot = find_lot(connection, find_supply(connection, GREASE), "a1")

    assert ("2026-02", 900, "EUR", "2/25", "2028-06") == (
        lot.received_on,
        lot.price_minor,
        lot.currency,
        lot.made,
        lot.expires_on,
    )
    assert "shelf 3" == drawer.history()[-1].place


def test_lots_without_a_name_are_named_by_their_day(drawer: Drawer) -> None:
    """A second one of the day gets a number."""
    assert ["2026-03-01", "2026-03-01-2"] == [lot for _ in "12" for lot in list(left(drawer.receive("1")))[-1:]]


def test_a_supply_tracked_by_the_pack_gets_a_lot_for_each_pack(engine: Engine) -> None:
    """Each can be opened by itself; the price is shared to the last cent."""
    tags = Drawer(engine, "tag, printed").add(kind="packing", measured_in="piece", step="", tracked="pack")
    tags.supplier()
    tags.offer("100", "3.00")
    booked = tags.receive("3 packs", "T", price="10.00")

    assert {"T-1": 100, "T-2": 100, "T-3": 100} == left(booked)
    with reading(engine) as connection:
        prices = fetch(connection, "SELECT price_minor FROM lot ORDER BY id")
    assert [333, 333, 334] == [row[0] for row in prices]


def test_what_arrives_past_its_date_is_received_and_said(drawer: Drawer) -> None:
    """On the last day it is not past its date, a day later it is."""
    assert () == drawer.receive("1", "in time", expires_on="2026-03-01").notes
    assert ("It was past its date, 2026-02-28, when it was received.",) == drawer.receive(
        "1", "late", expires_on="2026-02-28"
    ).notes


def test_a_receipt_entered_after_a_count_asks_for_a_new_count(drawer: Drawer) -> None:
    """Nobody can say whether the count saw the lot."""
    drawer.count("5", on="2026-02-01")

    assert (
        "was counted on 2026-02-01. If the new lot stood on the shelf then, count again"
        in (drawer.receive("5", "A", on="2026-01-15").notes[0])
    )


# --- orders ------------------------------------------------------------------------------------------------


@pytest.fixture
def ordered(drawer: Drawer) -> Drawer:
    """Return a drawer with order P1 of two packs of 50 g under way."""
    drawer.supplier(lead_days=14)
    drawer.offer("50", "9.00")
    drawer.order(2, on="2026-02-01")
    return drawer


def _open_packs(drawer: Drawer) -> list[int]:
    with reading(drawer.engine) as connection:
        return [line.open_packs for line in order_lines(connection)]


def test_an_order_without_a_quantity_has_come_whole(ordered: Drawer) -> None:
    """Both packs are booked in, the line is closed, and the receipt knows its line."""
    booked = ordered.receive(order="p1", lot="A")

    assert ({"A": 1000}, [0]) == (left(booked), _open_packs(ordered))
    assert ('Order "P1": 2 of 2 packs arrived.',) == booked.notes
    assert scalar(ordered.engine, "SELECT order_line_id FROM movement WHERE kind = 'receive'") is not None


@pytest.mark.parametrize(
    ("quantity", "still", "words"),
    [
        ("0.1", 1, 'Order "P1": 1 of 2 packs arrived. 1 still to come.'),
        ("50", 1, 'Order "P1": 1 of 2 packs arrived. 1 still to come.'),
        ("50.1", 0, 'Order "P1": 2 of 2 packs arrived.'),
        ("2 packs", 0, 'Order "P1": 2 of 2 packs arrived.'),
        ("100.1", 0, 'Order "P1": 2 of 2 packs arrived. That is more than was ordered (2 packs).'),
    ],
)
def test_part_of_an_order_leaves_the_rest_to_come(ordered: Drawer, quantity: str, still: int, words: str) -> None:
    """A part of a pack counts as the pack."""
    booked = ordered.receive(quantity, order="P1")

    assert ([still], (words,)) == (_open_packs(ordered), booked.notes)


def test_an_order_comes_in_two_goes_and_no_third(ordered: Drawer) -> None:
    """A line that waits for nothing refuses a receipt."""
    ordered.receive("1 pack", order="P1")
    ordered.receive(order="P1")

    with pytest.raises(Refused, match='Order "P1" waits for no more "white grease": it came on 2026-03-01'):
        ordered.receive("1", order="P1")


def test_undoing_a_receipt_opens_its_order_again(ordered: Drawer) -> None:
    """Act and order line go together."""
    ordered.receive(order="P1")
    undo(ordered.engine, None, today=TODAY, now=NOW)

    assert ([2], []) == (_open_packs(ordered), ordered.movements())


# --- open, discard, return, move, repack -------------------------------------------------------------------


def test_opening_starts_the_open_life_of_the_next_unopened_lot(engine: Engine) -> None:
    """24 months from the day it was opened, said at once; a second opening takes the next lot."""
    drawer = Drawer(engine).add(open_life_months=24)
    drawer.receive("5", "B", expires_on="2030", on="2026-02")
    drawer.receive("5", "A", expires_on="2029", on="2026-02")
    booked = drawer.open(on="2026-02-28")

    assert 'opened lot "A" of "white grease"' == booked.did
    assert ("Usable through 2028-02-28: opened 2026-02-28, keeps 2 years once open.",) == booked.notes
    assert 'opened lot "B" of "white grease"' == drawer.open().did


def test_a_lot_is_opened_once_and_before_it_is_used(two_lots: Drawer) -> None:
    """After its first use only that day or an earlier one can be told."""
    two_lots.use("1", on="2026-03-01")
    two_lots.open(lot="soon", on="2026-02-20")

    with pytest.raises(Refused, match='Lot "soon" of "white grease" was opened on 2026-02-20; a lot is opened once'):
        two_lots.open(lot="soon")


def test_a_lot_used_before_cannot_be_opened_after(drawer: Drawer) -> None:
    """The first use opened it."""
    drawer.receive("5", "A", on="2026-01-01")
    drawer.use("1", on="2026-02-01")

    with pytest.raises(Refused, match="came on 2026-01-01, after 2025-12-31"):
        drawer.open(lot="A", on="2025-12-31")
    with pytest.raises(Refused, match="was used on 2026-02-01, so it was open by then"):
        drawer.open(lot="A", on="2026-02-02")
    assert {"A": 40} == left(drawer.open(lot="A", on="2026-02-01"))


def test_all_of_a_lot_is_discarded_with_its_reason(two_lots: Drawer) -> None:
    """Without an amount it is what the book has of the lot."""
    booked = two_lots.discard(lot="soon", reason="dried out")

    assert {"late": 100} == left(booked)
    assert ("discard", "soon", -50) == two_lots.kinds()[-1]
    assert "dried out" == two_lots.history()[-1].movement.reason


def test_more_than_the_lot_has_is_discarded_with_a_mark(two_lots: Drawer) -> None:
    """It was there, so entries are missing."""
    booked = two_lots.discard("5.1", lot="soon")

    assert {"soon": -1, "late": 100} == left(booked)
    assert '0.1 g more than lot "soon" had: booked all the same and marked as doubtful.' == booked.notes[0]


def test_a_return_is_tied_to_its_receipt(two_lots: Drawer) -> None:
    """The row that went back carries the key of the row it came by."""
    two_lots.give_back("2", lot="late")
    key = scalar(two_lots.engine, "SELECT key FROM movement WHERE kind = 'receive' ORDER BY id LIMIT 1")

    assert key == two_lots.history()[-1].movement.group


def test_what_was_never_received_cannot_go_back(two_lots: Drawer) -> None:
    """A lot filled from another has no receipt of its own."""
    two_lots.repack("2", "jar", lot="late")

    with pytest.raises(Refused, match='Lot "jar" of "white grease" was never received'):
        two_lots.give_back(lot="jar")


def test_a_move_changes_the_place_and_nothing_else(two_lots: Drawer) -> None:
    """All lots go, in pairs that sum to zero; a second move has nothing to do."""
    two_lots.place("shelf 3")
    booked = two_lots.move("shelf 3")

    assert {"soon": 50, "late": 100} == left(booked)
    assert [-50, 50, -100, 100] == [steps for kind, _, steps in two_lots.kinds() if kind == "move"]
    with pytest.raises(Refused, match='the book has 0 g elsewhere than "shelf 3"'):
        two_lots.move("shelf 3")


@pytest.mark.parametrize(("quantity", "moved"), [("14.9", 149), ("15", 150), ("15.1", None)])
def test_no_more_is_moved_than_there_is(two_lots: Drawer, quantity: str, moved: int | None) -> None:
    """Below, at and above what the book has elsewhere."""
    two_lots.place("shelf 3")
    if moved is None:
        with pytest.raises(Refused, match=r'15\.1 g of "white grease": the book has 15 g elsewhere than "shelf 3"'):
            two_lots.move("shelf 3", quantity)
        return
    two_lots.move("shelf 3", quantity)

    assert moved == sum(steps for kind, _, steps in two_lots.kinds() if kind == "move" and steps > 0)


def test_what_stands_at_two_places_is_used_and_counted_as_one_lot(drawer: Drawer) -> None:
    """A use goes on at the second place; a count of the lot is spread over both."""
    drawer.place("bench")
    drawer.receive("5", "A")
    drawer.move("bench", "2")

    assert {"A": 10} == left(drawer.use("4"))
    assert {"A": 8} == left(drawer.count("0.8", lot="A"))
    assert {"A": 15} == left(drawer.count("1.5"))


def test_a_repacked_lot_is_as_old_as_the_one_it_comes_from(engine: Engine) -> None:
    """Its dates are those of the old lot, also when that was opened."""
    drawer = Drawer(engine).add(open_life_months=24)
    drawer.receive("10", "tin", expires_on="2029-01", made="2024-05", on="2026-01-15")
    drawer.open(lot="tin", on="2026-02-01")
    booked = drawer.repack("4", "jar", lot="tin")
    with reading(engine) as connection:
        jar = find_lot(connection, find_supply(connection, GREASE), "jar")

    assert {"tin": 60, "jar": 40} == left(booked)
    assert ("2029-01", "2024-05", "2026-01-15") == (jar.expires_on, jar.made, jar.received_on)
    assert ("open", "jar", 0) == drawer.kinds()[-1]
    assert "2026-02-01" == drawer.movements()[-1].occurred_on


@pytest.mark.parametrize(("quantity", "fits"), [("9.9", True), ("10", True), ("10.1", False)])
def test_no_more_is_repacked_than_the_lot_has(drawer: Drawer, quantity: str, fits: bool) -> None:
    """Quantity is conserved."""
    drawer.receive("10", "tin")
    if fits:
        assert 100 == drawer.repack(quantity, "jar").total
    else:
        with pytest.raises(Refused, match=r'10\.1 g of "white grease": the book has 10 g in lot "tin"'):
            drawer.repack(quantity, "jar")
