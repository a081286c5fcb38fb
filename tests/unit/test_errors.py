"""What a person reads when something is refused, and how names are compared."""

from __future__ import annotations

import ast
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.errors import Expected, Moved, NoBook, Refused, fold, nearest, path_typed, typed


def test_an_expected_error_reads_as_its_sentence_followed_by_its_hint() -> None:
    """What happened and what to type next stand in one line, and both stay readable by themselves."""
    error = Refused('Tag "D99" is not known.', "Nearest: D9.")

    assert 'Tag "D99" is not known. Nearest: D9.' == str(error)
    assert ('Tag "D99" is not known.', "Nearest: D9.") == (error.what, error.hint)


def test_an_error_without_a_hint_is_its_sentence_alone() -> None:
    """No blank is left at the end where there is nothing to type next."""
    assert "Nothing to undo." == str(Expected("Nothing to undo."))


@pytest.mark.parametrize(("kind", "code"), [(Expected, 1), (Refused, 1), (Moved, 4), (NoBook, 5)])
def test_each_kind_of_error_has_its_own_exit_code(kind: type[Expected], code: int) -> None:
    """Refused leaves with 1, a record that moved on with 4, a missing or foreign book with 5."""
    assert code == kind("Said.").exit_code


def test_one_error_may_leave_with_another_exit_code() -> None:
    """The exit code given for one error changes that error and no other."""
    assert (3, 1) == (Refused("Said.", exit_code=3).exit_code, Refused("Said.").exit_code)


@pytest.mark.parametrize(
    ("text", "folded"),
    [
        ("  Belt   Drive ", "belt drive"),
        ("D\u00a07", "d 7"),
        ("ＤＲＩＶＥ", "drive"),
        ("Straße", "strasse"),
        ("Ångström", "ångström"),
    ],
)
def test_folding_takes_away_case_width_and_spare_blanks(text: str, folded: str) -> None:
    """Names that a person takes for the same are the same when compared."""
    assert folded == fold(text)


@given(st.text())
def test_folding_twice_changes_nothing_more(text: str) -> None:
    """A stored folded name is found again by folding it."""
    assert fold(text) == fold(fold(text))


@given(st.text(st.characters(codec="ascii")))
def test_folding_plain_text_the_short_way_equals_the_long_way(text: str) -> None:
    """The quick path for ASCII gives what the full rule gives."""
    assert " ".join(text.casefold().split()) == fold(text)


def test_the_three_nearest_names_are_offered_as_they_are_spelt() -> None:
    """A mistyped tag is answered with tags that exist, the most alike first."""
    assert ["Drive 12", "Drive 2", "Drive 21"] == nearest("drive 12x", ["Supply", "Drive 2", "Drive 12", "Drive 21"])


def test_no_more_than_three_names_are_offered() -> None:
    """A hint stays one line."""
    assert ["D1", "D2", "D3"] == sorted(nearest("D", ["D1", "D2", "D3", "D44", "D55"]))


def test_no_name_is_offered_when_none_is_alike() -> None:
    """A wild guess is worse than none."""
    assert [] == nearest("zzzz", ["D1", "PS2"])


def test_a_name_is_typed_in_quotes_where_a_shell_would_part_it() -> None:
    """Letters of any script need none; what a shell would read inside of quotes stands in stronger ones."""
    assert ["'D\"1'", "'$1'", "D1-2"] == [typed(each) for each in ('D"1', "$1", "D1-2")]
    assert ["D1", "Ä-1.b", '"shelf A"', '""'] == [typed(each) for each in ("D1", "Ä-1.b", "shelf A", "")]
    assert ['" -D1"', "' -$1'"] == [typed(each) for each in ("-D1", "-$1")]


@given(
    st.text(st.characters(exclude_categories=("C", "Z")) | st.sampled_from(" '\"$`\\\\!-#*~&;|<>(){}[]?"), min_size=1)
)
def test_a_shell_reads_a_name_as_typed_as_one_word_that_is_no_option(name: str) -> None:
    """All look-ups fold, so a blank before a dash does not matter."""
    (word,) = shlex.split(typed(name))

    assert fold(name) == fold(word)
    assert not word.startswith("-")


def test_a_path_is_typed_so_that_it_is_the_same_file() -> None:
    """A blank before a dash would make it another."""
    paths = ("/a/b.xlsx", "/a b/c.xlsx", "~/a", "-a.xlsx", "-a b", "a-b")

    assert ["/a/b.xlsx", '"/a b/c.xlsx"', '"~/a"', "./-a.xlsx", '"./-a b"', "a-b"] == list(map(path_typed, paths))
    assert "./-a" == path_typed(Path("-a"))


_NAMES = (
    "tag", "tags", "loan", "person", "location", "supply", "supply_unit", "symptom", "file", "target", "folder",
    "place", "path",
)  # fmt: skip


def _untyped(node: ast.JoinedStr) -> Iterator[str]:
    """Yield what a text with a command in it puts into that as it is, though it is a name."""
    before = ""
    for part in node.values:
        if isinstance(part, ast.Constant):
            before += str(part.value)
        elif isinstance(part, ast.FormattedValue) and "spindlebook " in before:
            value = ast.unparse(part.value)
            if "typed(" not in value and value.replace("[0]", "").split(".")[-1].strip("'[]") in _NAMES:
                yield value


def test_a_command_to_type_has_its_names_as_a_shell_takes_them() -> None:
    """Wherever the program says what to type next."""
    found = [
        f"{file.name}:{node.lineno}: {value}"
        for file in sorted((Path(__file__).parents[2] / "collection").rglob("*.py"))
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.JoinedStr)
        for value in _untyped(node)
    ]

    assert [] == found
