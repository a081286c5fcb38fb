"""What a list looks like to a person and to a program."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from collection.cli.show import (
    Column,
    Mode,
    Records,
    Row,
    _plain,
    ask,
    clean,
    confirm,
    emit,
    emit_object,
    output_options,
    plain,
    say,
)
from collection.errors import Refused
from collection.quantity import parse_day

COLUMNS = [
    Column("tag"),
    Column("days_over"),
    Column("price", "price (EUR)", right=True, show=lambda value: f"{value:.2f}" if value else "-"),
    Column("key", in_table=False),
]
ROWS: list[Row] = [
    {"tag": "D1", "days_over": 7, "price": Decimal("18.00"), "key": "k1"},
    {"tag": "D14", "days_over": 110, "price": None, "key": "k2"},
]


def test_a_pipe_gets_the_table_at_its_natural_width(capsys: pytest.CaptureFixture[str]) -> None:
    """Headings come from the keys, numbers stand to the right, columns for programs stay out."""
    emit(ROWS, COLUMNS)

    assert (
        "tag  days over  price (EUR)\nD1           7        18.00\nD14        110            -\n"
        == capsys.readouterr().out
    )


def test_a_column_in_which_nothing_stands_is_shown_to_programs_only(capsys: pytest.CaptureFixture[str]) -> None:
    """A person is spared an empty column; one value is enough to show it, and a program always gets it."""
    columns = [Column("tag"), Column("cure"), Column("note")]
    rows = [{"tag": "D1", "cure": None, "note": ""}, {"tag": "D2", "cure": "new belt", "note": None}]
    shown = []
    for mode, found in (("table", rows[:1]), ("table", rows), ("csv", rows[:1])):
        emit(found, columns, mode)  # type: ignore[arg-type]
        shown.append(capsys.readouterr().out)

    assert ["tag\nD1\n", "tag  cure\nD1\nD2   new belt\n", "tag,cure,note\r\nD1,,\r\n"] == shown


def test_json_is_a_list_of_objects_with_every_column(capsys: pytest.CaptureFixture[str]) -> None:
    """Each row is an object on a line of its own; decimals are numbers, nothing is null."""
    emit(ROWS, COLUMNS, "json")

    out = capsys.readouterr().out
    assert [
        {"tag": "D1", "days_over": 7, "price": 18, "key": "k1"},
        {"tag": "D14", "days_over": 110, "price": None, "key": "k2"},
    ] == json.loads(out)
    assert 4 == out.count("\n")


@pytest.mark.parametrize(
    ("value", "text", "number"),
    [
        (Decimal("12.50"), "12.50", 12.5),
        (Decimal("1E+3"), "1000", 1000),
        (Decimal("0.0000001"), "0.0000001", 1e-7),
        (Fraction(1, 4), "1/4", 0.25),
        (True, "yes", True),
        (False, "no", False),
        (0, "0", 0),
        (None, "", None),
        ("größe", "größe", "größe"),
        (date(2026, 3, 1), "2026-03-01", "2026-03-01"),
        (parse_day("2022-03"), "2022-03", "2022-03"),
        (["belt", "head"], "belt, head", ["belt", "head"]),
    ],
)
def test_each_kind_of_value_has_one_form_for_people_and_one_for_programs(
    capsys: pytest.CaptureFixture[str], value: Any, text: str, number: Any
) -> None:
    """Tables and JSON show the same value, JSON in its own types."""
    assert text == plain(value)

    emit([{"x": value}], [Column("x")], "json")
    assert [{"x": number}] == json.loads(capsys.readouterr().out)


def test_an_empty_list_is_a_sentence_a_heading_or_an_empty_list(capsys: pytest.CaptureFixture[str]) -> None:
    """A person reads why there is nothing; a program gets the form it expects."""
    emit([], COLUMNS, empty="Nothing is due.")
    emit([], COLUMNS, "csv")
    emit([], COLUMNS, "json")

    person, *rest = capsys.readouterr().out.splitlines()
    assert "Nothing is due." == person
    assert "tag,days_over,price,key" == rest[0]
    assert [] == json.loads("".join(rest[1:]))


def test_csv_follows_rfc_4180(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    """Lines end in CR LF, quotes are doubled, texts with commas, quotes or line breaks are quoted, UTF-8."""
    emit(
        [{"a": 'say "µ"', "b": "x,y"}, {"a": "two\nlines", "b": ["p", "q"]}],
        [Column("a"), Column("b")],
        "csv",
    )

    expected = 'a,b\r\n"say ""µ""","x,y"\r\n"two\nlines",p;q\r\n'
    assert expected.encode() == capfdbinary.readouterr().out


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+cmd", "'+cmd"),
        ("-x", "'-x"),
        ("@sum", "'@sum"),
        ("\tx", "'\tx"),
        ("\rx", "'\rx"),
        ("-12.5", "-12.5"),
        ("+5", "+5"),
        ("-1.", "'-1."),
        (Decimal("-12.5"), "-12.5"),
        (-3, "-3"),
        ("a=1", "a=1"),
        ("", ""),
    ],
)
def test_no_cell_is_a_formula_and_numbers_stay_numbers(
    capsys: pytest.CaptureFixture[str], value: Any, cell: str
) -> None:
    """A text that a spreadsheet would run gets an apostrophe in front; numbers below zero do not."""
    emit([{"x": value, "y": "."}], [Column("x"), Column("y")], "csv")

    assert [["x", "y"], [cell, "."]] == list(csv.reader(io.StringIO(capsys.readouterr().out, newline="")))


@pytest.mark.parametrize("mode", ["table", "json", "csv"])
def test_rows_that_are_tuples_print_as_dicts_do(mode: Mode, capsys: pytest.CaptureFixture[str]) -> None:
    """Records are rows under the same keys, whatever is printed of them."""
    records = Records.of(
        ("key", "tag", "days_over", "price"), [("k1", "D1", 7, Decimal("18.00")), ("k2", "D14", 110, None)]
    )
    emit(ROWS, COLUMNS, mode)
    wanted = capsys.readouterr().out

    emit(records, COLUMNS, mode)

    assert wanted == capsys.readouterr().out
    assert ROWS == list(records)


def test_records_are_cut_as_rows_are(capsys: pytest.CaptureFixture[str]) -> None:
    """A part of them is Records too, also one without rows; without rows there is no table."""
    records = Records.of(("tag", "days"), [("D1", 7), ("D14", 110), ("D2", None)])

    assert [3, 2, 0, 0] == [len(each) for each in (records, records[1:], records[3:], Records.of(("tag",), []))]
    assert {"tag": "D2", "days": None} == records[1:][1] == records[-1]
    assert [7, 110] == records[:2].values_of("days")
    emit(records[3:], [Column("tag")], empty="Nothing yet.")
    assert "Nothing yet.\n" == capsys.readouterr().out


@pytest.mark.parametrize("count", [999, 1000, 1001, 2001])
def test_a_long_list_is_whole_in_every_form(count: int, capsys: pytest.CaptureFixture[str]) -> None:
    """It is put into text and printed so many rows at a time: none is lost, doubled or out of its place."""
    rows: list[Row] = [{"n": number, "why": "worn"} for number in range(count)]
    columns = [Column("n"), Column("why")]
    digits = len(str(count - 1))
    wanted = [
        [f"{'n':>{digits}}  why", *(f"{number:>{digits}}  worn" for number in range(count))],
        ["n,why", *(f"{number},worn" for number in range(count))],
        ["[", *(json.dumps(row) + "," * (row["n"] < count - 1) for row in rows), "]"],
    ]
    modes: tuple[Mode, ...] = ("table", "csv", "json")
    for mode, lines in zip(modes, wanted, strict=True):
        emit(rows, columns, mode)
        assert lines == capsys.readouterr().out.splitlines()


VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(allow_nan=False),
    st.text(),
    st.sampled_from(["=1+1", "a;=1", "two\nlines", "two\u2028lines", '}, {"\\u0000": ', '"\0"', "%s %%", "磁気"]),
    st.decimals(allow_nan=False, allow_infinity=False, places=2),
    st.fractions(),
    st.dates(),
    st.lists(st.one_of(st.text(), st.integers()), max_size=3),
    st.dictionaries(st.sampled_from(["a", "%s", "b"]), st.one_of(st.text(), st.lists(st.text())), max_size=3),
    st.lists(st.dictionaries(st.sampled_from(["a", "b"]), st.text(), max_size=2), max_size=3),
)


def test_numbers_stand_to_the_right_and_nothing_else_does(capsys: pytest.CaptureFixture[str]) -> None:
    """Gaps do not count; yes and no are words, and so is what is a number in some rows alone."""
    columns = [Column("number"), Column("answer"), Column("either"), Column("why")]
    rows: list[Row] = [
        {"number": None, "answer": True, "either": 7, "why": "worn"},
        {"number": Decimal("2.5"), "answer": None, "either": "7 or 8", "why": None},
        {"number": 7, "answer": False, "either": 1.5, "why": None},
    ]
    emit(rows, columns)

    assert [
        "number  answer  either  why",
        "        yes     7       worn",
        "   2.5          7 or 8",
        "     7  no      1.5",
    ] == capsys.readouterr().out.splitlines()


@given(st.lists(VALUES, min_size=1, max_size=6))
def test_a_value_is_written_the_same_whatever_stands_in_its_column(values: list[Any]) -> None:
    """A column is put into text as one; each value of it is what it is in a list of its own."""
    columns = [Column("tag %s"), Column("x")]
    rows: list[Row] = [{"tag %s": "D1", "x": value} for value in values]

    def printed(some: list[Row], mode: Mode) -> str:
        return _printed(lambda: emit(some, columns, mode))

    heading = printed([], "csv")
    assert printed(rows, "csv") == heading + "".join(printed([row], "csv").removeprefix(heading) for row in rows)
    assert printed(rows, "json") == "[\n" + ",\n".join(printed([row], "json")[2:-3] for row in rows) + "\n]\n"
    assert [plain(value) for value in values] == list(_plain(values))


@pytest.mark.parametrize("text", ["|", '}, "|", {', '"|"', '}, \\"|\\", {', "|}, {"])
def test_json_keeps_rows_apart_whatever_stands_in_them(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Many rows are put into text at once: no text of theirs is taken for the boundary between two."""
    rows: list[Row] = [{"a": text, "b": [text, {"c": text}]}] * 1001

    emit(rows, [Column("a"), Column("b")], "json")

    out = capsys.readouterr().out
    assert rows == json.loads(out)
    assert len(rows) + 2 == out.count("\n")


@given(st.lists(st.fixed_dictionaries({"a": st.text(), "b": st.integers()}), max_size=5))
def test_json_brings_every_text_back(rows: list[Row]) -> None:
    """Whatever is stored, a program that parses the list gets it back; half characters become '?'."""
    out = _printed(lambda: emit(rows, [Column("a"), Column("b")], "json"))

    assert [{**row, "a": row["a"].encode("utf-8", "replace").decode()} for row in rows] == json.loads(out)


def _printed(call: Any) -> str:
    @click.command()
    def command() -> None:
        call()

    return CliRunner().invoke(command, catch_exceptions=False).stdout


@pytest.mark.parametrize(
    ("stored", "shown"),
    [
        ("belt\x1b]0;owned\x07", "belt]0;owned"),
        ("a\x9b31mb", "a31mb"),
        ("a\u202eb", "ab"),
        ("two\nlines", "two lines"),
        ("tab\there", "tab here"),
        ("[red] :smile: {x} %s", "[red] :smile: {x} %s"),
        ("磁気", "磁気"),
        ("a\x00b\x7f", "ab"),
    ],
)
def test_stored_text_cannot_steer_the_terminal(capsys: pytest.CaptureFixture[str], stored: str, shown: str) -> None:
    """Control characters and marks that turn the writing are left out; everything else is shown as it is."""
    emit([{"x": stored}], [Column("x")])

    assert f"x\n{shown}\n" == capsys.readouterr().out


def test_lines_keep_their_breaks_and_lose_what_steers() -> None:
    """A longer text may have lines and tabs, and nothing else that a terminal obeys."""
    assert "a\n\tb[2J" == clean("a\n\tb\x1b[2J")


def test_a_command_with_output_options_is_told_the_mode() -> None:
    """Without an option the mode is the table; the last of several options counts."""

    @click.command()
    @output_options
    def command(mode: str) -> None:
        say(mode)

    for args, mode in (([], "table"), (["--json"], "json"), (["--csv"], "csv"), (["--json", "--csv"], "csv")):
        assert f"{mode}\n" == CliRunner().invoke(command, args).stdout


def test_an_object_is_printed_in_the_forms_of_a_list(capsys: pytest.CaptureFixture[str]) -> None:
    """A card as JSON has numbers and days as a list has them."""
    emit_object({"on": date(2026, 3, 1), "of": [{"ml": Decimal("2.5")}]})

    assert {"on": "2026-03-01", "of": [{"ml": 2.5}]} == json.loads(capsys.readouterr().out)


def test_without_a_terminal_a_question_takes_its_default_and_prints_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A script is never kept waiting, and its log tells what was taken."""
    assert 50 == ask("Mains frequency in Hz", "50", int)
    assert not confirm("Write 3 rows?")
    assert confirm("Write 3 rows?", yes=True)

    out, err = capsys.readouterr()
    assert "" == out
    assert [
        "Mains frequency in Hz: 50 (default)",
        "Write 3 rows? no (there is no terminal to ask at; --yes answers beforehand)",
    ] == err.splitlines()


def test_a_default_that_is_refused_is_refused_without_a_terminal() -> None:
    """A wrong option is not taken because nobody was there to ask."""

    def refuse(text: str) -> str:
        raise Refused(f"{text!r} is no time zone.")

    with pytest.raises(Refused, match="'Nowhere' is no time zone"):
        ask("Time zone", "Nowhere", refuse)
