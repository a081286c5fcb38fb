"""Where mechanisms have been: swaps, chains, swapping back, and entries that come late."""

from __future__ import annotations

from itertools import permutations

import pytest

from collection.analysis.mechanisms import Fitting, Mechanisms, Span, mechanisms_of

A, B, C, M = 1, 2, 3, 9


def fitted(row: int, unit: int, day: str, removed: str = "", *, donor: int = 0, itself: int = 0) -> Fitting:
    """Return a mechanism that was fitted."""
    return Fitting(row, unit, day, removed, donor, itself)


def history(made: Mechanisms, unit: int) -> list[tuple[int, str, str]]:
    """Return the spans of what is in a unit, without how they ended."""
    return [span[:3] for span in made.history_of(unit)]


def test_a_mechanism_that_never_moved_has_its_unit_s_whole_history() -> None:
    """No entry, no boundary."""
    made = mechanisms_of([])

    assert (A, [(A, "", "")]) == (made.now_in(A), history(made, A))
    assert not made.touched


def test_a_swapped_mechanism_brings_its_history_and_leaves_the_former_one_its_own() -> None:
    """The donor is left without any; what was read before in the host is of the mechanism that lies loose."""
    made = mechanisms_of([fitted(1, A, "2026-01-03", donor=B)])

    assert [(B, "", "2026-01-03"), (A, "2026-01-03", "")] == history(made, A)
    assert (None, []) == (made.now_in(B), history(made, B))
    assert [A, B] == [made.at(A, day, "between") for day in ("2026-01-02", "2026-01-04")]
    assert made.home_of(A) is None


@pytest.mark.parametrize(
    ("day", "stage", "of"),
    [
        ("2026-01-02", "as left", A),
        ("2026-01-03", "as found", A),
        ("2026-01-03", "as left", B),
        ("2026-01-03", "between", B),
        ("2026-01-04", "as found", B),
    ],
)
def test_on_the_day_of_a_swap_only_what_was_read_as_found_is_of_the_former(day: str, stage: str, of: int) -> None:
    """The day before, the day itself and the day after, by the stage of the reading."""
    assert of == mechanisms_of([fitted(1, A, "2026-01-03", donor=B)]).at(A, day, stage)


def test_all_that_was_read_in_a_donor_on_its_last_day_goes_along() -> None:
    """Nothing took the place, so there is nobody else whose reading it could be."""
    made = mechanisms_of([fitted(1, A, "2026-01-03", donor=B)])

    assert (B, B, None) == tuple(
        made.at(B, day, stage)
        for day, stage in (("2026-01-03", "as found"), ("2026-01-03", "between"), ("2026-01-04", "between"))
    )


def test_a_mechanism_handed_on_twice_has_been_in_three_units() -> None:
    """A to B to C: the whole way is its history, and B has none left."""
    made = mechanisms_of(
        [fitted(1, B, "2026-01-03", "2026-02-01", donor=A), fitted(2, C, "2026-02-01", donor=B)],
    )

    assert [(A, "", "2026-01-03"), (B, "2026-01-03", "2026-02-01"), (C, "2026-02-01", "")] == history(made, C)
    assert (None, None) == (made.now_in(A), made.now_in(B))


def test_swapped_back_each_has_its_own_history_with_a_gap_and_the_other_s_days_are_not_in_it() -> None:
    """The own one that lay loose takes up where it left off."""
    made = mechanisms_of([fitted(1, A, "2026-01-03", "2026-02-01", donor=B), fitted(2, A, "2026-02-01", itself=A)])
    back = mechanisms_of(
        [fitted(1, A, "2026-01-03", "2026-02-01", donor=B), fitted(2, B, "2026-02-01", donor=A)],
    )

    assert [(A, "", "2026-01-03"), (A, "2026-02-01", "")] == history(made, A)
    assert [(B, "", "2026-01-03"), (A, "2026-01-03", "2026-02-01"), (B, "2026-02-01", "")] == history(back, B)
    assert back.now_in(A) is None


def test_two_drives_can_swap_their_mechanisms() -> None:
    """The loose one is named by the unit it was born in, not by what sits in that unit now."""
    first = fitted(1, A, "2026-01-03", donor=B)
    made = mechanisms_of([first, fitted(2, B, "2026-01-03", itself=A)])

    assert (B, A) == (made.now_in(A), made.now_in(B))
    assert [(A, "", "2026-01-03"), (B, "2026-01-03", "")] == history(made, B)
    assert [True, False, False] == [
        mechanisms_of([first]).swapped(one, other, day)
        for one, other, day in ((A, B, "2026-01-03"), (A, B, "2026-01-04"), (A, C, "2026-01-03"))
    ]


def test_what_stays_in_a_donor_was_not_taken_out_of_it() -> None:
    """A folder of files names the donor alone: the row there that goes on says that its own was meant."""
    stays = mechanisms_of([fitted(1, A, "2026-01-03", donor=B), fitted(2, C, "2026-02-01", donor=A)])
    later = mechanisms_of([fitted(1, A, "2026-01-03", "2026-02-02", donor=B), fitted(2, C, "2026-02-01", donor=A)])
    taken = mechanisms_of([fitted(1, A, "2026-01-03", "2026-02-01", donor=B), fitted(2, C, "2026-02-01", donor=A)])

    assert [(B, A), (None, A), (None, B)] == [(made.now_in(A), made.now_in(C)) for made in (stays, later, taken)]


def test_what_is_entered_late_counts_by_its_day() -> None:
    """In whatever order three swaps are given, each mechanism has been where it was."""
    swaps = [
        fitted(7, A, "2026-01-03", "2026-02-01", donor=B),
        fitted(5, A, "2026-02-01", donor=C),
        fitted(6, B, "2026-03-01", itself=B),
    ]

    assert 1 == len({str([history(mechanisms_of(order), unit) for unit in (A, B, C)]) for order in permutations(swaps)})
    assert [(B, "", "2026-01-03"), (A, "2026-01-03", "2026-02-01"), (B, "2026-03-01", "")] == history(
        mechanisms_of(swaps), B
    )


def test_a_mechanism_of_its_own_is_itself_again_when_it_comes_out() -> None:
    """Its own readings, those in the drive and those after belong to one history."""
    made = mechanisms_of([fitted(1, A, "2026-01-03", "2026-02-01", itself=M)], {M})

    assert [(M, "", "2026-01-03"), (A, "2026-01-03", "2026-02-01"), (M, "2026-02-01", "")] == history(made, M)
    assert made.now_in(A) is None


def test_what_is_not_there_any_more_brings_nobody_s_history() -> None:
    """A second taking out of the same donor begins a history of its own; so does a new mechanism."""
    made = mechanisms_of([fitted(1, A, "2026-01-03", donor=B), fitted(2, C, "2026-02-01", donor=B)])
    new = mechanisms_of([fitted(3, A, "2026-01-03")])

    assert [(C, "2026-02-01", "")] == history(made, C)
    assert [(B, "", "2026-01-03"), (A, "2026-01-03", "")] == history(made, A)
    assert ([(A, "2026-01-03", "")], -3) == (history(new, A), new.now_in(A))


def test_removed_and_not_replaced_there_is_none() -> None:
    """Unless another one had taken its place before that entry."""
    gone = mechanisms_of([fitted(1, A, "2026-01-03", "2026-02-01", donor=B)])

    assert (None, ()) == (gone.now_in(A), gone.history_of(A))
    assert gone.spans[B][-1] == Span(A, "2026-01-03", "2026-02-01", emptied=True)
