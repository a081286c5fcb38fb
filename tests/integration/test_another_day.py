"""Lists of another day, on both databases: what was printed then is printed again, and the past is as it was."""

from __future__ import annotations

import json
import shlex
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from tests.support.bench import IPA, SWAB, set_up_bench
from tests.support.books import act
from tests.support.cli import run_cli
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

# What was done on each of the days after the bench was set up.
STEPS = (
    (
        'loan out D1 --to "Bram Oakhollow" --due 2026-04-01',
        'unit edit D2 --note "red label"',
        'reading add D2 "spindle speed" 300.1 --instrument "bench counter"',
        'service record D4 --did "dust out" --outcome ready',
        f'supply use "{SWAB}" 3',
        'wanted add D3 "front bezel"',
    ),
    (
        'person edit "Bram Oakhollow" --name "Bram Oakley" --role issuer',
        'unit edit D2 --note "blue label" --serial 77',
        'fault add D2 "hums when warm"',
        'reading set-aside D2 --number 1 --reason "belt slipped"',
        f'supply count "{SWAB}" 40',
        'limit edit "spindle speed" --class "300 r/min" --lower 294 --reason looser',
        'unit enter D7 --owner "Ilse Vanterpool"',
    ),
    (
        "loan back D1",
        'fault close D2 --cause "dry bearing" --cure oiled',
        'wanted drop D3 "front bezel" --reason found',
        'instrument retire "hand strobe" --reason "lamp gone"',
        'unit add D8 --model "DM-8"',
        "undo 10",
        "undo 6",
    ),
)
LISTS = (
    "unit list", "unit show D2", "loan list", "fault list --all", "reading list D2", "stock",
    f'supply history "{SWAB}"', "instrument list --all", "person list", "limit list", "wanted list --all",
    "due", "history",
)  # fmt: skip


def _printed(line: str, book: str, today: date, *more: str) -> str:
    ran = run_cli([*shlex.split(line), *more, "--json"], db=book, today=today)
    assert 0 == ran.code, ran
    return ran.out


def test_a_list_as_known_on_a_day_is_what_it_printed_that_day(book_url: str, engine: Engine) -> None:
    """Edits, a new name, what was undone, set aside, closed or counted since: none of it shows."""
    set_up_bench(engine, TODAY, NOW)
    then: list[tuple[date, dict[str, str]]] = []
    for number, lines in enumerate(STEPS):
        today = TODAY + timedelta(days=number)
        then.append((today, {line: _printed(line, book_url, today) for line in LISTS}))
        for line in lines:
            ran = run_cli(shlex.split(line), db=book_url, today=today + timedelta(days=1))
            assert 0 == ran.code, ran

    later = TODAY + timedelta(days=30)
    for today, printed in then:
        for line in LISTS:
            assert printed[line] == _printed(line, book_url, later, "--known-on", today.isoformat()), (today, line)


@pytest.fixture
def told_later(engine: Engine) -> Engine:
    """Return an engine on a book in which all of the past was entered today."""
    set_up_bench(engine, TODAY, NOW)
    with shelf(engine) as made:
        model = made.model("VX-5")
        kept = made.work.insert("unit", tag="X1", tag_folded="x1", model_id=model, acquired_on="2024-06-10")
        made.standing(kept, "ready", "2024-06-10")
        made.owner(kept, "Ilva", "2024-06-10")
        made.owner(kept, "Orla", "2025-05-01")
        made.lend(kept, "2025-02-01", "2025-03-01", "2025-02-20")
        made.service(kept, "2025-06-01", "dust out", closed_on="2025-06-03", outcome="ready")
        made.reading(made.series(kept), "2025-01-15", 300.5)
        made.reading(made.series(kept), "2025-07-15", 301.5)
        ended = {"closed_on": "2025-06-03", "cause": "dry", "cure": "oil"}
        made.work.insert("fault", unit_id=kept, noticed_on="2025-03-02", symptom="hums", **ended)
        # Without a day of acquisition a unit stands from the first day of which something tells, else from its entry.
        for tag, seen in (("X2", "2024-12-31"), ("X3", None)):
            unit = made.work.insert("unit", tag=tag, tag_folded=tag.lower(), model_id=model)
            if seen:
                made.reading(made.series(unit), seen, 299.0)
    return engine


def _as_of(line: str, book: str, day: str) -> list[dict[str, str]]:
    found: list[dict[str, str]] = json.loads(_printed(line, book, TODAY, "--as-of", day))
    return found


def test_what_came_about_later_is_not_told(told_later: Engine, book_url: str) -> None:
    """Units, owners, ends of loans and faults, readings, the drawer: the day before and the day, all entered now."""

    def tags(day: str) -> list[str]:
        return [row["tag"] for row in _as_of("unit list", book_url, day) if row["tag"].startswith("X")]

    assert [[], ["X1"], ["X1"], ["X1", "X2"], ["X1", "X2"], ["X1", "X2", "X3"]] == [
        tags(day) for day in ("2024-06-09", "2024-06-10", "2024-12-30", "2024-12-31", "2026-02-28", "2026-03-01")
    ]
    stood = {
        "2025-01-31": ("Ilva", "ready"),
        "2025-02-01": ("Ilva", "on loan"),
        "2025-02-19": ("Ilva", "on loan"),
        "2025-02-20": ("Ilva", "ready"),
        "2025-04-30": ("Ilva", "ready"),
        "2025-05-01": ("Orla", "ready"),
    }
    for day, owner_and_standing in stood.items():
        row = _as_of("unit list --model VX-5", book_url, day)[0]
        assert owner_and_standing == (row["owner"], row["standing"]), day
    gone = run_cli(["unit", "show", "X1", "--as-of", "2024-06-09"], db=book_url)
    assert (1, 'As of 2024-06-09: No unit has the tag "X1".') == (gone.code, gone.err.splitlines()[0])
    assert [[], [None], ["2025-02-20"]] == [
        [row["back_on"] for row in _as_of("loan list --all", book_url, day)]
        for day in ("2025-01-31", "2025-02-19", "2025-02-20")
    ]
    assert [[], [(None, None)], [("2025-06-03", "oil")]] == [
        [(row["closed_on"], row["cure"]) for row in _as_of("fault list --all", book_url, day)]
        for day in ("2025-03-01", "2025-06-02", "2025-06-03")
    ]
    assert [1, 1, 2] == [
        len(_as_of("reading list X1", book_url, day)) for day in ("2025-01-15", "2025-07-14", "2025-07-15")
    ]
    assert [["A-1"], ["A-1", "A-2"]] == [
        [row["lot"] for row in _as_of(f'stock "{IPA}"', book_url, day)] for day in ("2025-06-04", "2025-06-05")
    ]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--as-of", "2026-03-02"], "Type today or an earlier day."),
        (["--known-on", "2026-03-02"], "--known-on 2026-03-02 has not come yet"),
        (["--known-on", "2026-02-28"], "The book was begun on 2026-03-01 and knew nothing before."),
        (["--as-of", "2026-03-01", "--known-on", "2026-02-28"], "--known-on 2026-02-28 is before --as-of 2026-03-01"),
        (["--as-of", "2026-02"], "names no single day"),
        (["--as-of", "1949-12-31"], "is before 1950"),
    ],
)
def test_a_day_of_which_nothing_can_be_told_is_refused(sqlite_book: Path, options: list[str], says: str) -> None:
    """Tomorrow, a day before the book, half a day: two lines, and how to go on."""
    ran = run_cli(["unit", "list", *options], db=sqlite_book)

    assert 1 == ran.code
    assert says in ran.err
    assert 2 == len(ran.err.splitlines())


@pytest.mark.parametrize("option", ["--as-of", "--known-on"])
def test_before_the_book_began_its_history_says_the_first_day_that_can_be_asked(
    engine: Engine, book_url: str, option: str
) -> None:
    """That day by the clocks of the book, which may be another than that of UTC; it is answered."""
    later = TODAY + timedelta(days=2)
    with act(engine) as work:
        work.update("book", 1, time_zone="Pacific/Kiritimati")
        work.commit("moved to where each day begins first")

    ran = run_cli(["history", option, "2026-03-01"], db=book_url, today=later)

    assert 1 == ran.code
    assert [
        "The book was begun on 2026-03-02 and knew nothing before.",
        "The first day that can be asked is 2026-03-02.",
    ] == ran.err.splitlines()
    assert 0 == run_cli(["history", option, "2026-03-02"], db=book_url, today=later).code


def test_today_is_a_day_of_which_lists_tell(sqlite_book: Path) -> None:
    """The day itself is no day too late, by either option or both."""
    for options in (["--as-of", "2026-03-01"], ["--known-on", "2026-03-01"], ["--as-of", "2026-03-01", "--known-on"]):
        more = ["2026-03-01"] if options[-1] == "--known-on" else []
        assert 0 == run_cli(["unit", "list", *options, *more], db=sqlite_book).code


def test_a_page_says_of_which_day_it_tells_and_when_that_was_known(sqlite_book: Path, tmp_path: Path) -> None:
    """Whoever holds it in the hand did not see what was typed."""
    later = TODAY + timedelta(days=2)
    for options, says in (
        ((), "2026-03-03"),
        (("--as-of", "2025-01-31"), "2025-01-31, as known on 2026-03-03"),
        (("--known-on", "2026-03-02"), "2026-03-02, as known on 2026-03-02"),
        (("--as-of", "2025-01-31", "--known-on", "2026-03-01"), "2025-01-31, as known on 2026-03-01"),
    ):
        page = tmp_path / "due.html"
        ran = run_cli(["report", "due", "--to", str(page), "--replace", *options], db=sqlite_book, today=later)
        assert 0 == ran.code, ran
        assert f">{says}<" in page.read_text(encoding="utf-8")


def test_the_past_is_told_though_somebody_was_forgotten_since(book_url: str, engine: Engine) -> None:
    """Of who was forgotten and never changed before, no earlier state is left: the number stands in the past too."""
    set_up_bench(engine, TODAY, NOW)
    lines = ('loan out D1 --to "Bram Oakhollow" --due 2026-04-01', "loan back D1")
    forgetting = 'person forget "Bram Oakhollow" --reason "left the club" --yes'
    for number, line in enumerate((*lines, forgetting)):
        assert 0 == run_cli(shlex.split(line), db=book_url, today=TODAY + timedelta(days=number)).code

    later = TODAY + timedelta(days=30)
    then = json.loads(_printed("loan list", book_url, later, "--known-on", TODAY.isoformat()))

    assert [("D1", "forgotten person 1", None)] == [(row["tag"], row["person"], row["back_on"]) for row in then]
    shown = run_cli(("person", "show", "forgotten person 1", "--known-on", TODAY.isoformat()), db=book_url, today=later)
    assert "D1" in shown.out
    assert "No text elsewhere names them." in shown.out
