"""What `verify` finds in a ledger: each rule with a row that keeps it and one that breaks it."""

import pytest
from hypothesis import given, settings

from collection.analysis.ledger import Movement
from collection.analysis.ledger_rules import KINDS, Broken, check
from tests.support.ledgers import ledgers, row

RECEIVED = row(1, "receive", 9, 1)


def _says(*rows: Movement) -> list[str]:
    return [f"{each.movement} {each.rule}: {each.says}" for each in check(rows)]


@settings(max_examples=60, deadline=None)
@given(ledgers)
def test_a_ledger_booked_by_the_rules_breaks_none(rows: list[Movement]) -> None:
    """Random ledgers with late entries, reverses, counts, moves and repacks come out clean."""
    assert check(rows) == []


@pytest.mark.parametrize(
    ("kind", "right", "wrong"),
    [
        ("receive", [0, 1], [-1]),
        ("count", [0, 1], [-1]),
        ("short", [0, 1], [-1]),
        ("use", [0, -1], [1]),
        ("discard", [0, -1], [1]),
        ("open", [0], [-1, 1]),
    ],
)
def test_each_kind_has_its_sign(kind: str, right: list[int], wrong: list[int]) -> None:
    """Zero, one step above and one below tell the signs apart."""
    for steps in right:
        assert _says(row(1, kind, steps, 1)) == []
    for steps in wrong:
        assert [each.rule for each in check([row(1, kind, steps, 1)])] == ["sign"]


def test_a_wrong_sign_is_named_with_value_and_rule() -> None:
    """The sentence has the kind, the steps seen and what they must be."""
    assert _says(row(1, "use", 5, 1)) == ["1 sign: use has 5 steps; must be zero or less"]


def test_an_unknown_kind_is_named() -> None:
    """All kinds that there are stand in the sentence."""
    assert _says(row(1, "borrow", 5, 1)) == [f'1 kind: kind "borrow" is none of {", ".join(KINDS)}']


@pytest.mark.parametrize(("kind", "steps"), [("receive", 1), ("open", 0), ("return", -1)])
def test_kinds_about_a_lot_name_one(kind: str, steps: int) -> None:
    """A use of an unknown lot is possible; these are not."""
    assert Broken(2, "lot", f"{kind} names no lot; it must name one") in check([row(2, kind, steps, 1, lot=None)])
    assert check([row(2, "use", -1, 1, lot=None)]) == []


@pytest.mark.parametrize("reason", [None, "", "  "])
def test_a_discard_says_why(reason: str | None) -> None:
    """A blank is no reason."""
    assert _says(RECEIVED, row(2, "discard", -1, 2, reason=reason)) == [
        "2 reason: discard has no reason; it must say why"
    ]


def test_a_lot_belongs_to_one_supply() -> None:
    """The second supply's row is the broken one."""
    assert _says(RECEIVED, row(2, "use", -1, 2, supply=7)) == [
        "2 supply: lot 11 is booked under supply 7 and 1; only one may be"
    ]


@pytest.mark.parametrize(("kind", "steps", "word"), [("receive", 3, "came in"), ("open", 0, "was opened")])
def test_a_lot_comes_in_and_is_opened_once(kind: str, steps: int, word: str) -> None:
    """A second time is named, unless the first was taken back."""
    first, second = row(2, kind, steps, 2), row(4, kind, steps, 3)
    back = row(3, "reverse", -steps, 2, reverses=2)

    assert _says(first, second) == [f"4 once: lot 11 {word} in movement 2 already; once is the rule"]
    assert _says(first, back, second) == []


def test_a_repack_opens_a_lot_that_was_not_there() -> None:
    """A lot that was received cannot be the new lot of a repack as well."""
    out, into = row(3, "repack", -9, 3, group="r"), row(4, "repack", 9, 3, group="r", lot=12)

    assert _says(RECEIVED, out, into) == []
    assert _says(RECEIVED, row(2, "receive", 5, 1, lot=12), out, into) == [
        "4 once: lot 12 came in in movement 2 already; once is the rule"
    ]


def test_only_what_was_received_can_be_returned() -> None:
    """A lot that was only counted has no supplier to go back to."""
    assert _says(RECEIVED, row(2, "return", -1, 2)) == []
    assert _says(row(1, "count", 3, 1), row(2, "return", -1, 2)) == [
        "2 return: lot 11 was never received; it cannot be returned"
    ]


REVERSE = row(3, "reverse", 2, 2, reverses=2)
USED = row(2, "use", -2, 2)


def test_an_exact_opposite_takes_a_row_back() -> None:
    """Same lot, place and day, opposite steps: nothing is broken."""
    assert _says(RECEIVED, USED, REVERSE) == []


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"steps": 1}, "has 1 steps against -2 of movement 2; must be the opposite"),
        ({"steps": -2}, "has -2 steps against -2 of movement 2; must be the opposite"),
        ({"lot": 12}, "differs from movement 2 in supply, lot, place or day; all must be the same"),
        ({"place": 2}, "differs from movement 2 in supply, lot, place or day; all must be the same"),
        (
            {"occurred_on": "2026-01-03"},
            "differs from movement 2 in supply, lot, place or day; all must be the same",
        ),
        ({"reverses": 8}, "takes back movement 8, which is not an earlier one"),
        ({"reverses": 3}, "takes back movement 3, which is not an earlier one"),
        ({"reverses": None}, "takes back movement None, which is not an earlier one"),
    ],
)
def test_a_reverse_that_is_not_the_exact_opposite_is_named(changes: dict[str, object], says: str) -> None:
    """Each way to differ, alone."""
    wrong = REVERSE._replace(**changes)  # type: ignore[arg-type]

    assert f"3 reverse: {says}" in _says(RECEIVED, USED, wrong)


def test_a_row_is_taken_back_once_and_a_reverse_stays() -> None:
    """Neither a second reverse of a row nor the reverse of a reverse is possible."""
    again = row(4, "reverse", 2, 2, reverses=2)
    of_reverse = row(4, "reverse", -2, 2, reverses=3)

    assert _says(RECEIVED, USED, REVERSE, again) == ["4 reverse: movement 2 was taken back by movement 3 already"]
    assert _says(RECEIVED, USED, REVERSE, of_reverse) == [
        "4 reverse: takes back movement 3, a reverse; a reverse stays"
    ]


def test_only_a_reverse_takes_a_row_back() -> None:
    """Any other kind that points at a row is named."""
    assert _says(RECEIVED, row(2, "use", -1, 2, reverses=1)) == ["2 reverse: only a reverse takes a row back"]


COUNT = row(2, "count", 7, 4)
UNCOUNT = row(9, "reverse", -7, 4, reverses=2)


@pytest.mark.parametrize(
    "between",
    [
        [],
        [row(3, "use", -1, 3)],
        [row(3, "use", -1, 5, place=2)],
        [row(3, "open", 0, 5)],
        [row(3, "use", -1, 5), row(4, "reverse", 1, 5, reverses=3)],
    ],
)
def test_a_count_can_be_taken_back_while_it_is_last(between: list[Movement]) -> None:
    """Earlier days, other places, rows without effect and rows taken back do not rest on it."""
    assert _says(RECEIVED, COUNT, *between, UNCOUNT) == []


@pytest.mark.parametrize("day", [4, 5])
def test_a_count_on_which_later_rows_rest_stays(day: int) -> None:
    """A row of the same day recorded after it, or of a later day, needs it."""
    assert _says(RECEIVED, COUNT, row(3, "use", -1, day), UNCOUNT) == [
        "9 count: takes back count 2 although movement 3 came after it; must count again"
    ]


def test_rows_recorded_after_a_count_was_taken_back_do_not_matter() -> None:
    """The reverse was right when it was recorded."""
    assert _says(RECEIVED, COUNT, UNCOUNT, row(10, "use", -1, 6)) == []


OUT = row(2, "move", -4, 2, group="m")
INTO = row(3, "move", 4, 2, group="m", place=2)


def test_a_move_is_a_pair_that_sums_to_zero() -> None:
    """Both rows together, or both taken back."""
    backs = [row(4, "reverse", 4, 2, reverses=2), row(5, "reverse", -4, 2, reverses=3, place=2)]

    assert _says(RECEIVED, OUT, INTO) == []
    assert _says(RECEIVED, OUT, INTO, *backs) == []
    assert _says(RECEIVED, OUT, INTO, backs[0]) == ["3 pair: move stands in a group of 1; must be a pair of rows"]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"steps": 3}, "move of -4 and 3 steps; the pair must sum to zero"),
        ({"steps": 5}, "move of -4 and 5 steps; the pair must sum to zero"),
        ({"place": 1}, "move must keep the lot and change the place"),
        ({"lot": 12}, "move must keep the lot and change the place"),
        ({"occurred_on": "2026-01-03"}, "move spans two supplies or days; must be one of each"),
        ({"supply": 2, "lot": 21}, "move spans two supplies or days; must be one of each"),
        ({"group": None}, "move stands in a group of 1; must be a pair of rows"),
    ],
)
def test_a_move_that_loses_something_is_named(changes: dict[str, object], says: str) -> None:
    """Each way to differ, alone."""
    wrong = INTO._replace(**changes)  # type: ignore[arg-type]

    assert f"2 pair: {says}" in _says(RECEIVED, OUT, wrong)


def test_a_repack_leads_from_one_lot_to_another() -> None:
    """Within one lot it would be no repack."""
    out, into = OUT._replace(kind="repack"), INTO._replace(kind="repack")

    assert "2 pair: repack must lead from one lot to another" in _says(out, into)
    assert _says(RECEIVED, out, into._replace(lot=12)) == []


@pytest.mark.parametrize("kind", ["move", "repack"])
def test_a_pair_of_nothing_is_named(kind: str) -> None:
    """A move or repack of zero steps says nothing."""
    assert f"2 sign: {kind} has 0 steps; must be not zero" in _says(row(2, kind, 0, 2, group="m"))
