"""How rows of text become a table."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.cli.table import lay_out, width_of, wrap


@pytest.mark.parametrize(
    ("text", "cells"),
    [
        ("", 0),
        ("belt", 4),
        ("µs", 2),
        ("磁気", 4),  # Unicode Standard Annex #11: wide
        ("\uff21", 2),  # full-width form
        ("e\u0301", 1),  # a combining accent takes no cell of its own
        ("a\u200db", 2),  # a joiner takes none
    ],
)
def test_a_text_takes_the_cells_that_a_terminal_gives_it(text: str, cells: int) -> None:
    """Wide characters take two cells, combining marks none."""
    assert cells == width_of(text)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("nine char", ["nine char"]),
        ("nine chars", ["nine", "chars"]),
        ("a bb ccc", ["a bb ccc"]),
        ("abcdefghij", ["abcdefghi", "j"]),
        ("a abcdefghij", ["a", "abcdefghi", "j"]),
        ("磁気ヘッド", ["磁気ヘッ", "ド"]),
        ("", [""]),
    ],
)
def test_a_text_is_broken_at_blanks_and_a_long_word_anywhere(text: str, lines: list[str]) -> None:
    """No line is wider than nine cells, and as few words as possible are broken."""
    assert lines == wrap(text, 9)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("a bb cccc", ["a bb cccc"]),
        ("see /long/path now", ["see", "/long/path", "now"]),
        ("/long/path", ["/long/path"]),
    ],
)
def test_whole_words_stay_whole_however_long(text: str, lines: list[str]) -> None:
    """A path wider than nine cells stands alone and can be copied; the words around it are still wrapped."""
    assert lines == wrap(text, 9, whole_words=True)


@given(st.text(st.sampled_from("ab 磁é-"), max_size=60), st.integers(2, 20))
def test_wrapping_loses_no_letter_and_keeps_the_width(text: str, width: int) -> None:
    """Whatever the text, each line fits and the letters come out in order."""
    lines = wrap(text, width)

    assert all(width_of(line) <= width for line in lines)
    assert text.replace(" ", "") == "".join(lines).replace(" ", "")


HEADINGS = ["tag", "days", "why"]
ROWS = [["D1", "7", "re-lube rails: 12 months since 3 Oct 2025"], ["D14", "110", "speed"]]
RIGHT = [False, True, False]


def test_without_a_width_every_column_has_its_natural_width() -> None:
    """A pipe gets everything on one line; numbers stand to the right, no line ends in blanks."""
    heading, body = lay_out(HEADINGS, ROWS, RIGHT, None)

    assert ["tag  days  why"] == heading
    assert ["D1      7  re-lube rails: 12 months since 3 Oct 2025", "D14   110  speed"] == body


@pytest.mark.parametrize("width", [34, 35, 36])
def test_a_day_and_a_tag_are_never_broken(width: int) -> None:
    """What has to give way is the longer word; where none can, the table becomes blocks."""
    headings = ["damage", "found", "what", "standing"]
    row = ["DL1", "2026-03-01", "bezel", "extraordinarily"]

    heading, lines = lay_out(headings, [row], [False] * 4, width)

    assert any("2026-03-01" in line for line in lines), lines
    assert bool(heading) == (width > 34)


def test_a_table_that_just_fits_is_not_wrapped() -> None:
    """52 cells are needed: at 52 nothing is wrapped, at 51 the longest text is."""
    assert 2 == len(lay_out(HEADINGS, ROWS, RIGHT, 52)[1])
    assert 3 == len(lay_out(HEADINGS, ROWS, RIGHT, 51)[1])


def test_a_narrow_terminal_wraps_the_longest_text_and_cuts_nothing() -> None:
    """At 30 cells the reason takes three lines below one another and the numbers stay whole."""
    heading, body = lay_out(HEADINGS, ROWS, RIGHT, 30)

    assert ["tag  days  why"] == heading
    assert [
        "D1      7  re-lube rails: 12",
        "           months since 3 Oct",
        "           2025",
        "D14   110  speed",
    ] == body


@pytest.mark.parametrize(
    ("width", "heading"),
    [
        (24, ["due         days over it"]),
        (23, ["due           days over", "                     it"]),
        (18, ["due           days", "              over", "                it"]),
    ],
)
def test_a_heading_above_numbers_is_wrapped_before_a_day_is_broken(width: int, heading: list[str]) -> None:
    """The heading may take several lines; the numbers below it keep to the right, and the days stay whole."""
    rows = [["2026-03-01", "7"], ["2026-04-12", "110"]]
    shown, body = lay_out(["due", "days over it"], rows, [False, True], width)

    assert heading == shown
    assert [f"2026-03-01{'7':>{width - 10}}", f"2026-04-12{'110':>{width - 10}}"] == body


def test_a_table_without_rows_has_its_heading() -> None:
    """Nothing below it makes a column narrower than its heading."""
    assert (["tag  days  why"], []) == lay_out(HEADINGS, [], RIGHT, 80)


def test_where_columns_cannot_stand_side_by_side_rows_become_blocks() -> None:
    """At 18 cells each row is a block of heading and value; nothing is cut and empty cells are left out."""
    heading, body = lay_out(HEADINGS, [["D1", "7", "re-lube rails"], ["D14", "", "speed"]], RIGHT, 18)

    assert [] == heading
    assert ["tag: D1", "days: 7", "why: re-lube", "  rails", "", "tag: D14", "why: speed"] == body


@given(
    st.lists(
        st.lists(st.text(st.sampled_from("ab 磁-7"), max_size=30), min_size=3, max_size=3),
        min_size=1,
        max_size=4,
    ),
    st.integers(4, 60),
)
def test_no_line_is_wider_than_the_terminal(rows: list[list[str]], width: int) -> None:
    """Whatever the rows and the terminal, no line is wider than it, headings beside it are the one floor."""
    heading, body = lay_out(["a", "b", "c"], rows, [False, False, False], width)

    assert all(width_of(line) <= width for line in heading + body)


@pytest.mark.parametrize(
    ("width", "lines"),
    [
        (33, ["measurement  295.5 to 304.5 r/min"]),
        (32, ["measurement  295.5 to 304.5", "             r/min"]),
        (21, ["measurement  295.5 to", "             304.5", "             r/min"]),
        (20, ["measuremen  295.5 to", "t           304.5", "            r/min"]),
    ],
)
def test_no_word_is_broken_while_another_column_can_be_wrapped(width: int, lines: list[str]) -> None:
    """The longest word of each column stays whole until nothing else is left to narrow."""
    _, body = lay_out(["", ""], [["measurement", "295.5 to 304.5 r/min"]], [False, False], width)

    assert lines == body


def test_a_text_above_a_row_begins_a_group() -> None:
    """Groups after the first stand apart by an empty line; a text below stands with its row in blocks too."""
    rows = [("grease", "1"), ("swab", "2"), ("belt", "3")]
    below, above = ("", "soon", ""), ("first parcel", "", "later")

    assert ["first parcel", "grease  1", "swab    2", "     soon", "", "later", "belt    3"] == lay_out(
        ("what", "packs"), rows, (False, False), None, below, above
    )[1]
    assert "     soon" in lay_out(("what", "packs"), rows, (False, False), 9, below, above)[1]


@pytest.mark.parametrize("wide", ["磁気円盤", "\u0301drum\u0301", "größe"])
def test_a_row_with_room_stands_on_one_line_beside_one_without(wide: str) -> None:
    """Cells are as wide as a terminal shows them, whether a column has letters beyond ASCII or not."""
    rows = [["D1", wide, "7"], ["D2", "belt head rails motor", "12"], ["D3", "belt", ""], ["D4", f"{wide} {wide}", "1"]]
    gap = " " * (10 - width_of(wide))
    heading, body = lay_out(["tag", "part", "n"], rows, [False, False, True], 19)
    wrapped = wide if width_of(f"{wide} {wide}") > 10 else f"{wide} {wide}"

    assert ["tag  part         n"] == heading
    assert ["D1   " + wide + gap + "   7", "D2   belt head   12", "     rails", "     motor", "D3   belt"] == body[:5]
    assert "D4   " + wrapped + " " * (10 - width_of(wrapped)) + "   1" == body[5]
    natural = lay_out(["part", "n"], [[wide, "7"], ["belt head", "12"]], [False, True], None)[1]
    assert [f"{wide}{gap[1:]}   7", "belt head  12"] == natural


def test_texts_beside_rows_are_as_many_as_the_rows() -> None:
    """One too few would put a text beside another row."""
    with pytest.raises(ValueError, match="shorter"):
        lay_out(["tag"], [["D1"], ["D2"]], [False], None, ["soon"])
