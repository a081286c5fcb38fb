"""The drawer in the folder: lots, orders, uses from the right lots, counts, amounts beyond the book."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.store.engine import reading
from collection.views.shelves import shelf_of
from collection.views.supplies import find_supply
from collection.views.verify import verify
from tests.support.folders import SMALL, bring, findings, plan, refusals, rows
from tests.support.times import NOW, TODAY

SUPPLIES = {
    "supplies": "supply,kind,measured_in,smallest_step\nspirit,solvent,ml,0.1\nswab 9,swab,piece,\n",
    "suppliers": "supplier,lead_days\nPostbox,7\n",
    "offers": "supplier,supply,pack_quantity,price\nPostbox,spirit,500,9.50\n",
}
LOTS = (
    "supply,lot,received_on,quantity,expires_on,opened_on\n"
    "spirit,A,2025-01-01,100,2026-06-30,\nspirit,B,2025-02-01,100,2025-12-31,2025-03-01\n"
)
USES = "supply,lot,quantity,used_on,service,tag,procedure,basis,planned,what,reason\n"
MOVES = (
    "SELECT m.kind, l.name, m.steps, m.used_past_date FROM movement m LEFT JOIN lot l ON l.id = m.lot_id"
    " WHERE m.kind NOT IN ('receive', 'open') ORDER BY m.id"
)


def _use(quantity: str, day: str = "2025-05-01", lot: str = "", what: str = "", reason: str = "") -> str:
    return f"spirit,{lot},{quantity},{day},,,,,,{what},{reason}\n"


@pytest.fixture
def drawer(engine: Engine) -> Engine:
    """Return a book with two lots of spirit; B expires before A and is open."""
    bring(engine, {**SMALL, **SUPPLIES, "lots": LOTS})
    return engine


def test_a_lot_is_received_and_opened(drawer: Engine) -> None:
    """One movement says what came, one on which day it was opened; both once."""
    sql = "SELECT l.name, m.kind, m.steps, m.occurred_on FROM movement m JOIN lot l ON l.id = m.lot_id ORDER BY m.id"

    assert rows(drawer, sql) == [
        ("A", "receive", 1000, "2025-01-01"),
        ("B", "receive", 1000, "2025-02-01"),
        ("B", "open", 0, "2025-03-01"),
    ]
    assert plan(drawer, {**SUPPLIES, "lots": LOTS}).changes_nothing


def test_a_lot_is_opened_later_but_never_received_otherwise(drawer: Engine) -> None:
    """opened_on may be told later; another quantity or day of receipt is refused."""
    made = bring(drawer, {"lots": LOTS.replace("2026-06-30,", "2026-06-30,2025-07-01")})
    assert [(each.record, each.column) for each in findings(made, "changed")] == [("lot spirit A", "opened_on")]

    for old, new, column in (
        ("2025-01-01,100", "2025-01-01,90", "quantity"),
        ("2025-01-01", "2025-01-02", "received_on"),
        ("2025-03-01", "2025-03-02", "opened_on"),
    ):
        told = refusals(plan(drawer, {"lots": LOTS.replace(old, new)}))
        assert [each[2] for each in told] == [column]
        assert "never rewritten" in str(told) or "opened once" in str(told)


def test_a_use_without_a_lot_is_taken_first_expired_first_out(drawer: Engine) -> None:
    """120 ml: all of B, which expires first, and the rest of A, tied as one row of the folder."""
    text = USES + _use("120")
    bring(drawer, {"uses": text})

    assert rows(drawer, MOVES) == [("use", "B", -1000, 0), ("use", "A", -200, 0)]
    assert rows(drawer, "SELECT count(DISTINCT group_key) FROM movement WHERE kind = 'use'") == [(1,)]
    assert plan(drawer, {"uses": text}).changes_nothing
    assert plan(drawer, {"uses": text + _use("10")}).totals["new"] == 1


def test_uses_are_taken_in_the_order_of_their_days(drawer: Engine) -> None:
    """A row that comes later in the file but happened earlier finds the stock of its own day."""
    bring(drawer, {"uses": USES + _use("100", "2025-06-01") + _use("30", "2025-05-01")})

    assert rows(drawer, MOVES) == [("use", "B", -300, 0), ("use", "B", -700, 0), ("use", "A", -300, 0)]


def test_more_than_the_book_has_is_taken_with_a_mark(drawer: Engine) -> None:
    """Amounts beyond the lot are allowed: entries are missing, and the row is doubtful once."""
    text = USES + _use("100.1", lot="A")
    made = bring(drawer, {"uses": text})

    (doubt,) = findings(made, "doubtful")
    assert (doubt.record, doubt.column) == ("use spirit A 2025-05-01", "quantity")
    assert rows(drawer, MOVES) == [("use", "A", -1000, 0), ("use", "A", -1, 0)]
    assert rows(drawer, "SELECT field FROM doubt WHERE table_name = 'movement'") == [("quantity",)]
    assert plan(drawer, {"uses": text}).changes_nothing
    assert not findings(plan(drawer, {"uses": USES + _use("100", lot="B")}), "doubtful")


def test_a_lot_past_its_date_is_used_last_and_marked(drawer: Engine) -> None:
    """In 2026 B is past its date: A first, then B all the same, since it was used."""
    made = bring(drawer, {"uses": USES + _use("150", "2026-02-01")})

    assert rows(drawer, MOVES) == [("use", "A", -1000, 0), ("use", "B", -500, 1)]
    assert [each.column for each in findings(made, "doubtful")] == ["lot"]


@pytest.mark.parametrize(("day", "lot"), [("2025-08-30", "B"), ("2025-08-31", "A"), ("2025-09-01", "A")])
def test_a_use_of_a_past_day_finds_the_lots_as_they_were_then(drawer: Engine, day: str, lot: str) -> None:
    """On the day before A was opened B leaves first, which came earlier; from that day on A does."""
    lots = "supply,lot,received_on,quantity,opened_on\nswab 9,A,2024-02-29,6,2025-08-31\nswab 9,B,2024-01-31,6,\n"
    bring(drawer, {"lots": lots, "uses": f"{USES}swab 9,,1,{day},,,,,,,\n"})

    assert [row[:2] for row in rows(drawer, MOVES)] == [("use", lot)]


def test_what_is_past_its_date_is_thrown_away_first_and_without_a_mark(drawer: Engine) -> None:
    """B is past its date in 2026: it is what is discarded, named or not, and nothing about that is doubtful."""
    text = USES + _use("5", "2026-02-01", what="discard", reason="expired")
    text += _use("6", "2026-02-02", lot="B", what="return")
    made = bring(drawer, {"uses": text})

    assert not findings(made, "doubtful")
    assert rows(drawer, MOVES) == [("discard", "B", -50, 0), ("return", "B", -60, 0)]


def test_each_way_out_of_the_drawer_has_its_sign(drawer: Engine) -> None:
    """Discards and returns leave the stock, a shortage changes nothing and keeps what was missing."""
    text = (
        USES
        + _use("5", what="discard", lot="A", reason="spilt")
        + _use("6", what="return", lot="A")
        + _use("7", what="short")
    )
    bring(drawer, {"uses": text})

    assert [row[:3] for row in rows(drawer, MOVES)] == [
        ("discard", "A", -50),
        ("return", "A", -60),
        ("short", None, 70),
    ]
    assert plan(drawer, {"uses": text}).changes_nothing
    with reading(drawer) as conn:
        assert verify(conn).broken == []


@pytest.mark.parametrize(
    ("row", "column"),
    [
        (_use("5", what="discard", lot="A"), "reason"),
        (_use("5", what="return"), "lot"),
        (_use("0"), "quantity"),
        (_use("-1"), "quantity"),
        (_use("0.05"), "quantity"),
        (_use("5", lot="C"), "lot"),
        (_use("5", day="2026-03-02"), "used_on"),
    ],
)
def test_what_the_ledger_does_not_allow_is_refused(drawer: Engine, row: str, column: str) -> None:
    """A discard says why, a return names its lot, an amount is whole steps above zero."""
    assert [each[2] for each in refusals(plan(drawer, {"uses": USES + row}))] == [column]


def test_what_was_reversed_is_not_brought_in_again(drawer: Engine) -> None:
    """The folder's row is in the book, even if it was set right since; an export leaves it out."""
    from collection.acts.work import open_work

    text = USES + _use("5", lot="A")
    bring(drawer, {"uses": text})
    ((row, supply, lot),) = rows(drawer, "SELECT id, supply_id, lot_id FROM movement WHERE kind = 'use'")
    with open_work(drawer, "supply reverse", today=TODAY, now=NOW) as work:
        work.append(
            "movement", supply_id=supply, lot_id=lot, kind="reverse", steps=50, entered="5", occurred_on="2025-05-01",
            reverses_id=row, used_past_date=0,
        )  # fmt: skip
        work.commit("reversed a use")

    assert plan(drawer, {"uses": text}).changes_nothing


def test_a_count_without_a_lot_is_the_total_of_the_supply(drawer: Engine) -> None:
    """It is spread over the lots as the drawer does it, and is one row of the folder again."""
    text = "supply,lot,counted_on,quantity\nspirit,,2025-05-01,150\nspirit,A,2025-06-01,40\n"
    bring(drawer, {"counts": text})

    counts = [(lot, steps) for kind, lot, steps, _ in rows(drawer, MOVES) if kind == "count"]
    assert sum(steps for _lot, steps in counts[:2]) == 1500
    assert counts[-1] == ("A", 400)
    assert plan(drawer, {"counts": text}).changes_nothing


def test_a_use_sees_the_earlier_uses_of_its_folder(drawer: Engine) -> None:
    """Stock of a day is that of the folder's own receipts and earlier uses as well."""
    text = USES + _use("100", "2025-05-01", lot="B") + _use("10", "2025-05-02")
    bring(drawer, {"uses": text})

    assert rows(drawer, MOVES)[-1][:3] == ("use", "A", -100)


def test_orders_have_lines_and_what_happened_to_them(drawer: Engine) -> None:
    """Lines of one name are one order; arrivals and cancellations come later and are never rewritten."""
    head = "order,supplier,ordered_on,supply,packs,arrived_on,arrived_packs,cancelled_on\n"
    first = head + "O,Postbox,2025-05-01,spirit,3,,,\nO,Postbox,2025-05-01,swab 9,1,,,\n"
    bring(drawer, {"orders": first})
    assert rows(drawer, "SELECT count(*) FROM purchase_order") == [(1,)]
    assert rows(drawer, "SELECT packs, pack_steps FROM order_line ORDER BY id") == [(3, 5000), (1, None)]

    came = head + "O,Postbox,2025-05-01,spirit,3,2025-05-09,2,\nO,Postbox,2025-05-01,swab 9,1,,,2025-05-20\n"
    made = bring(drawer, {"orders": came})
    assert made.totals["changed"] == 2
    assert rows(drawer, "SELECT kind, happened_on, packs FROM order_event ORDER BY id") == [
        ("arrived", "2025-05-09", 2),
        ("cancelled", "2025-05-20", None),
    ]
    assert plan(drawer, {"orders": came}).changes_nothing
    bring(drawer, {"orders": came.replace("2025-05-09,2", "2025-05-12,3")})
    assert rows(drawer, "SELECT sum(packs) FROM order_event WHERE kind = 'arrived'") == [(3,)]
    for wrong, column in (("2025-05-12,1", "arrived_on"), ("2025-05-13,3", "arrived_on")):
        told = refusals(plan(drawer, {"orders": came.replace("2025-05-09,2", wrong)}))
        assert [each[2] for each in told] == [column]
    assert not plan(drawer, {"orders": first.replace("spirit,3", "spirit,4")}).writable


def test_an_offer_is_known_by_its_price_and_pack(drawer: Engine) -> None:
    """Another price is another offer; other lead days are a change of it."""
    head = "supplier,supply,pack_quantity,price,lead_days\n"

    assert plan(drawer, {"offers": head + "Postbox,spirit,500.0,9.5,\n"}).changes_nothing
    assert plan(drawer, {"offers": head + "Postbox,spirit,500,9.60,\n"}).totals["new"] == 1
    assert plan(drawer, {"offers": head + "Postbox,spirit,500,9.50,3\n"}).totals["changed"] == 1


def test_an_amount_may_be_given_in_another_unit(drawer: Engine) -> None:
    """1 cl is 10 ml; a procedure has one amount of a supply, and another quantity changes it."""
    head = "procedure,supply,quantity,measured_in\n"
    bring(drawer, {"amounts": head + "dust out,spirit,1,cl\n"})

    assert rows(drawer, "SELECT a.steps FROM amount a JOIN supply s ON s.id = a.supply_id WHERE s.name = 'spirit'") == [
        (100,)
    ]
    assert plan(drawer, {"amounts": head + "dust out,spirit,10,\n"}).changes_nothing
    assert plan(drawer, {"amounts": head + "dust out,spirit,11,\n"}).totals["changed"] == 1


def test_an_undone_import_leaves_the_drawer_as_it_was(drawer: Engine) -> None:
    """Property 9 of the ledger: the same rows again change nothing, also after undo and again."""
    text = USES + _use("120")
    bring(drawer, {"uses": text})
    undo(drawer, None, today=TODAY, now=NOW)

    bring(drawer, {"uses": text})

    assert plan(drawer, {"uses": text}).changes_nothing
    with reading(drawer) as conn:
        assert verify(conn).broken == []


def test_uses_and_counts_of_a_folder_are_one_story(drawer: Engine) -> None:
    """A use after a count of the same folder finds what was counted; one of the same day came before it."""
    counts = "supply,lot,counted_on,quantity\nspirit,B,2025-05-02,0\nspirit,,2025-07-01,60\n"
    uses = USES + _use("10", "2025-05-03") + _use("10", "2025-05-02")
    bring(drawer, {"counts": counts, "uses": uses})

    assert [row[:3] for row in rows(drawer, MOVES)] == [
        ("use", "B", -100),
        ("count", "B", 0),
        ("use", "A", -100),
        ("count", "A", 600),
    ]
    assert plan(drawer, {"counts": counts, "uses": uses}).changes_nothing


def _key(milliseconds: int, version: int = 7) -> str:
    return f"{milliseconds:08x}-0000-{version}000-8000-{milliseconds:012x}"


@pytest.mark.parametrize(
    ("counted", "used", "left"),
    [
        (_key(1), _key(2), 250),  # counted, then used
        (_key(2), _key(1), 300),
        (_key(1), _key(1), 300),  # written by one act: uses come first
        (_key(1), "", 300),
        ("", _key(1), 300),
        (_key(1, version=4), _key(2, version=4), 300),  # keys that tell no time
    ],
)
def test_on_one_day_keys_tell_whether_a_count_came_before_a_use(
    drawer: Engine, counted: str, used: str, left: int
) -> None:
    """A book in which somebody counted in the morning and used in the afternoon has the same stock elsewhere."""
    made = bring(
        drawer,
        {
            "counts": f"supply,lot,counted_on,quantity,key\nspirit,A,2025-05-01,30,{counted}\n",
            "uses": f"supply,lot,quantity,used_on,key\nspirit,A,5,2025-05-01,{used}\n",
        },
    )

    assert made.totals["new"] == 2
    with reading(drawer) as conn:
        shelf = shelf_of(conn, find_supply(conn, "spirit"))
    assert {shelf.name_of(lot.id): lot.steps for lot in shelf.lots_held()}["A"] == left
