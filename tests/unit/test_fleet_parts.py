"""The generator's parts on inputs small enough to follow by hand: visits, lots and counts."""

from dataclasses import replace
from itertools import pairwise

import pytest

from collection.analysis.fleet_dice import Dice, days_from_today
from collection.analysis.fleet_drawer import Drawer
from collection.analysis.fleet_visits import FIRST_DAY, Member, Row, Visit, visits_of

MEMBER = Member(
    tag="D1",
    kind="drive",
    drive_type="belt",
    model="M 1",
    media="130 mm",
    nominal=300.0,
    adjustable=True,
    role="",
    last_service=-60,
)
SUPPLIES = [
    {"supply": "alcohol", "kind": "solvent", "measured_in": "ml", "smallest_step": "0.1", "tracked": "count"},
    {"supply": "swab", "kind": "swab", "measured_in": "piece", "smallest_step": "1", "tracked": "count"},
    {"supply": "belt A", "kind": "belt", "measured_in": "piece", "smallest_step": "1", "tracked": "count"},
    {"supply": "belt B", "kind": "belt", "measured_in": "piece", "smallest_step": "1", "tracked": "count"},
    {"supply": "tag", "kind": "packing", "measured_in": "piece", "smallest_step": "1", "tracked": "pack"},
    {"supply": "mask", "kind": "protection", "measured_in": "piece", "smallest_step": "1", "tracked": "no"},
]
FITS = {"belt A": "M 1; M 2", "belt B": "M 3"}


def _demo(amounts: list[Row], lots: list[Row], uses: list[Row] | None = None) -> dict[str, list[Row]]:
    supplies = [
        {**row, "fits": FITS.get(row["supply"], ""), "open_life_months": "24" if row["kind"] == "solvent" else ""}
        for row in SUPPLIES
    ]
    return {"supplies.csv": supplies, "amounts.csv": amounts, "lots.csv": lots, "uses.csv": uses or []}


def _amount(supply: str, quantity: str, chance: str = "") -> Row:
    return {"procedure": "work", "supply": supply, "quantity": quantity, "chance": chance}


def _lot(supply: str, lot: str, received: str, quantity: str, expires: str = "") -> Row:
    return {"supply": supply, "lot": lot, "received_on": received, "quantity": quantity, "expires_on": expires}


def _visit(day: int, special: Row | None = None) -> Visit:
    return Visit("D1", day, day, ("work",), "yearly service", special or {})


def _ran(demo: dict[str, list[Row]], *days: int, model: str = "M 1") -> Drawer:
    drawer = Drawer(demo, Dice("drawer"))
    drawer.run([(f"S{day}", _visit(day), model) for day in days])
    return drawer


def _taken(drawer: Drawer) -> list[tuple[str, str, str]]:
    return [(row["lot"], row["quantity"], row["what"]) for row in drawer.uses]


def _visits(loans: list[Row], last: int = -60) -> list[Visit]:
    member = replace(MEMBER, last_service=last)
    return visits_of(member, -2000, {"visits.csv": [], "loans.csv": loans}, Dice("visits"))


def _loan(out: str, back: str, direction: str = "out") -> Row:
    return {"tag": "D1", "direction": direction, "out_on": out, "back_on": back}


def test_regular_visits_run_from_the_first_day_of_the_book_to_the_last_service() -> None:
    """The first takes the unit into the book, then about every half year something is done, up to the last day."""
    visits = _visits([])
    opened = [visit.opened for visit in visits]
    gaps = [later - earlier for earlier, later in pairwise(opened[1:])]

    assert visits[0].reason == "taken into the book"
    assert FIRST_DAY <= opened[0] <= FIRST_DAY + 9
    assert opened[-1] == -60
    assert all(140 <= gap <= 230 for gap in gaps)


@pytest.mark.parametrize("direction", ["out", "in"])
def test_a_unit_is_visited_during_a_loan_only_when_it_was_lent_to_the_club(direction: str) -> None:
    """A loan out over a planned visit takes it away; a unit lent to the club stays at hand."""
    planned = _visits([])[-2].opened
    loan = _loan(f"today{planned - 5:+d}", f"today{planned + 5:+d}", direction)

    opened = [visit.opened for visit in _visits([loan])]

    assert (planned in opened) == (direction == "in")
    assert len(opened) == len(_visits([])) - (direction == "out")


def test_a_loan_still_out_takes_away_all_visits_since() -> None:
    """Without a day back the unit is away up to today."""
    opened = [visit.opened for visit in _visits([_loan("today-400", "")])]

    assert opened
    assert max(opened) < -400


def test_a_unit_without_a_last_service_has_no_regular_visits() -> None:
    """A donor, or a unit that nobody opened yet, is visited only where a row says so."""
    member = replace(MEMBER, last_service=None)

    assert visits_of(member, -2000, {"visits.csv": [], "loans.csv": []}, Dice("visits")) == []


def test_the_lot_that_expires_first_is_taken_first_and_the_rest_from_the_next() -> None:
    """3 belts from lots of 2 and 5 are two rows, the earlier expiry first."""
    late, early = ("late", "today-500", "5", "today+50"), ("early", "today-400", "2", "today+9")
    drawer = _ran(_demo([_amount("belt A", "3")], [_lot("belt A", *late), _lot("belt A", *early)]), -100)

    assert _taken(drawer) == [("early", "2", ""), ("late", "1", "")]
    assert drawer.taken_from == {("S-100", "belt A"): ["early", "late"]}


def test_a_lot_is_used_on_its_last_day_and_not_after() -> None:
    """Printed expiry on day -50: taken on day -50; on day -49 the wish is short."""
    demo = _demo([_amount("belt A", "1")], [_lot("belt A", "L", "today-500", "9", "today-50")])

    assert _taken(_ran(demo, -50)) == [("L", "1", "")]
    assert _taken(_ran(demo, -49)) == [("", "1", "short")]


def test_an_opened_lot_keeps_for_its_open_life() -> None:
    """Opened on day -1000 with 24 months of open life (counted as 720 days): good on -280, not on -279."""
    demo = _demo([_amount("alcohol", "1")], [_lot("alcohol", "L", "today-1100", "100")])

    assert [what for _, _, what in _taken(_ran(demo, -1000, -280))] == ["", ""]
    assert [what for _, _, what in _taken(_ran(demo, -1000, -279))] == ["", "short"]
    assert _ran(demo, -1000).lot_rows()[0]["opened_on"] == "today-1000"


def test_what_is_left_of_a_wish_is_booked_as_short() -> None:
    """2 in the lot and 3 wanted: 2 used, 1 short, and a lot received later is not touched."""
    lots = [_lot("belt A", "L", "today-500", "2"), _lot("belt A", "later", "today-99", "5")]

    assert _taken(_ran(_demo([_amount("belt A", "3")], lots), -100)) == [("L", "2", ""), ("", "1", "short")]


def test_only_the_belt_that_fits_the_model_is_taken() -> None:
    """Both belts are amounts of the procedure; each model takes its own, a third model none."""
    demo = _demo(
        [_amount("belt A", "1"), _amount("belt B", "1")],
        [_lot("belt A", "LA", "today-500", "5"), _lot("belt B", "LB", "today-500", "5")],
    )

    assert _taken(_ran(demo, -100, model="M 2")) == [("LA", "1", "")]
    assert _taken(_ran(demo, -100, model="M 3")) == [("LB", "1", "")]
    assert _taken(_ran(demo, -100, model="M 4")) == []


def test_packs_are_opened_and_untracked_supplies_leave_no_row() -> None:
    """A supply tracked by the pack shows only that its pack was opened; one not tracked shows nothing."""
    demo = _demo(
        [_amount("tag", "1"), _amount("mask", "1")],
        [_lot("tag", "T-1", "today-500", "50"), _lot("tag", "T-2", "today-400", "50")],
    )
    drawer = _ran(demo, -100)

    assert drawer.uses == []
    assert [row["opened_on"] for row in drawer.lot_rows()] == ["today-100", ""]


def test_an_amount_with_no_chance_is_never_taken_and_a_sure_one_always() -> None:
    """Chance 0 and chance 1 leave nothing to luck."""
    lots = [_lot("belt A", "L", "today-900", "90")]

    assert _taken(_ran(_demo([_amount("belt A", "1", "0")], lots), *range(-140, -100))) == []
    assert len(_taken(_ran(_demo([_amount("belt A", "1", "1")], lots), *range(-140, -100)))) == 40


def test_counts_find_solvent_dried_and_pieces_as_booked() -> None:
    """Opened alcohol has lost 3 % of the book by each count, sealed alcohol and pieces nothing."""
    demo = _demo(
        [_amount("belt A", "1")],
        [
            _lot("alcohol", "opened", "today-900", "100"),
            _lot("alcohol", "sealed", "today-900", "100"),
            _lot("belt A", "L", "today-900", "9"),
        ],
        [_use("alcohol", "opened", "0", "today-800")],
    )
    drawer = _ran(demo, -500)

    counted = {(row["lot"], row["counted_on"]): row["quantity"] for row in drawer.counts}
    days = sorted({days_from_today(row["counted_on"]) for row in drawer.counts})
    opened, sealed, pieces = ([counted[lot, f"today{day:+d}"] for day in days] for lot in ("opened", "sealed", "L"))

    # 100.0 -> 97.0 -> 94.1 (2.91 is rounded down to whole steps of 0.1) -> 91.3
    assert opened == ["97", "94.1", "91.3"]
    assert sealed == ["100", "100", "100"]
    assert pieces == ["9", "8", "8"]


def test_a_count_moves_off_a_day_on_which_something_is_used() -> None:
    """A use and a count on one day would leave open which came first, so the count waits a day."""
    demo = _demo([_amount("belt A", "1")], [_lot("belt A", "L", "today-900", "9")])
    free = [days_from_today(row["counted_on"]) for row in _ran(demo, -500).counts]

    moved = [days_from_today(row["counted_on"]) for row in _ran(demo, free[0], free[0] + 1).counts]

    assert moved == [free[0] + 2, *free[1:]]


def test_all_that_is_left_can_be_discarded() -> None:
    """The quantity "rest" becomes what the book says is left on that day."""
    given = {**_use("belt A", "L", "rest", "today-90"), "what": "discard", "reason": "perished"}
    drawer = _ran(_demo([_amount("belt A", "2")], [_lot("belt A", "L", "today-900", "9")], [given]), -100, -80)

    assert _taken(drawer) == [("L", "2", ""), ("L", "7", "discard"), ("", "2", "short")]


def _use(supply: str, lot: str, quantity: str, day: str) -> Row:
    return {"supply": supply, "lot": lot, "quantity": quantity, "used_on": day, "what": ""}
