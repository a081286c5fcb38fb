"""What `safety add` says of a check, whenever it is entered; typed, on both databases."""

from __future__ import annotations

import json

import pytest
from sqlalchemy.engine import Engine

from tests.support.cli import run_cli
from tests.support.shelf import shelf

_CAUTION = "Caution: leave P1 unplugged, and where nobody plugs it in; it is not lent until a check passes.\n"


@pytest.mark.parametrize(
    ("stands", "entered", "on", "holds", "caution"),
    [
        ("pass", "fail", "2026-02-09", "What holds is the check of 2026-02-10: pass.\n", ""),
        ("pass", "fail", "2026-01", "What holds is the check of 2026-02-10: pass.\n", ""),
        ("pass", "fail", "2026-02-10", "", _CAUTION),
        ("pass", "fail", "2026-02-11", "", _CAUTION),
        ("fail", "pass", "2026-02-09", "What holds is the check of 2026-02-10: fail.\n", _CAUTION),
        ("fail", "pass", "2026-02-10", "", ""),
    ],
)
def test_the_check_that_was_entered_is_shown_and_the_one_that_holds_decides_on_the_caution(
    book_url: str, engine: Engine, stands: str, entered: str, on: str, holds: str, caution: str
) -> None:
    """One entered late, of an earlier day, neither forbids lending nor allows it; of one day the later entry holds."""
    with shelf(engine) as made:
        made.unit("P1")
        made.person("Ilse Vanterpool")
    add = ["safety", "add", "P1", "--by", "Ilse Vanterpool"]
    assert 0 == run_cli([*add, stands, "--on", "2026-02-10"], db=book_url).code

    ran = run_cli([*add, entered, "--on", on], db=book_url)

    table, rest = ran.out.splitlines(keepends=True)[:2], ran.out.splitlines(keepends=True)[2:]
    assert ["P1", on, entered] == table[1].split()[:3]
    assert holds + caution == "".join(rest)
    row = json.loads(run_cli([*add, entered, "--on", on, "--json"], db=book_url).out)
    assert [("P1", on, entered)] == [(each["tag"], each["checked_on"], each["result"]) for each in row]


def test_a_check_of_before_a_grade_that_failed_takes_no_caution_away(book_url: str, engine: Engine) -> None:
    """The grade of a reading or a service holds over what was checked before it, and the unit is not lent."""
    with shelf(engine) as made:
        made.reading(made.series(made.unit("P1"), "electrical safety"), "2026-02-10", "fail")
        made.person("Ilse Vanterpool")
    said = [
        run_cli(["safety", "add", "P1", "pass", "--by", "Ilse Vanterpool", "--on", f"2026-02-{day}"], db=book_url).out
        for day in ("09", "11")
    ]

    assert [True, False] == [out.endswith(_CAUTION) for out in said]
    assert ["graded fail 2026-02-10" in out for out in said] == [True, False]


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_of_a_unit_that_fails_while_it_is_out_is_told_who_has_it(
    book_url: str, engine: Engine, more: tuple[str, ...]
) -> None:
    """They may plug it in; beside what a program reads, too. A pass says nothing of it, nor what is back."""
    with shelf(engine) as made:
        made.lend(made.unit("P1"), "2026-02-01", "2026-04-01")
        made.lend(made.unit("P2"), "2026-02-01", "2026-04-01", back_on="2026-02-20")
        made.person("Ilse Vanterpool")
    typed = [("P1", "pass"), ("P1", "fail"), ("P2", "fail")]

    said = [run_cli(["safety", "add", *words, "--by", "Ilse Vanterpool", *more], db=book_url).err for words in typed]

    back = "Tell them, and ask for it back: spindlebook loan back P1\n"
    assert ["", f"P1 is out to Ilva (loan L1).\n{back}", ""] == said
