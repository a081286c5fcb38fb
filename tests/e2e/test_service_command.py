"""Services from the command line: what stands before the work, what is shown after it, files and refusals."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

import pexpect
import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import open_engine
from tests.support.books import digest
from tests.support.cli import ROOT, Ran, environment, run_cli, run_python
from tests.support.times import TODAY
from tests.support.warm import warm_program

SPEED = ["--instrument", "bench counter", "--as-found", "spindle speed=306.1", "--did", "set spindle speed"]
READY = [*SPEED, "--as-left", "spindle speed=200.0 ms", "--outcome", "ready"]


@pytest.fixture
def engine_of(book: Path) -> Engine:
    """Return an engine on the same book."""
    return open_engine(str(book))


def _run(book: Path, *args: str, answers: str | None = None) -> Ran:
    return run_cli(["service", *args], db=book, answers=answers)


def _object(ran: Ran) -> dict[str, Any]:
    assert (0, "") == (ran.code, ran.err)
    made: dict[str, Any] = json.loads(ran.out)
    return made


def test_one_line_records_a_service_and_shows_what_changed(book: Path) -> None:
    """First the cautions, then the readings before and after, what was used and is left, what is due next."""
    ran = _run(
        book,
        *["record", "D4", *READY, "--did", "clean head", "--as-left", "head condition=pass"],
        *["--used", "isopropyl alcohol 99 %=12 ml", "--used", "foam swab, lint-free=3", "--minutes", "20"],
    )

    before, _, after = ran.out.partition("\nD4: service of 2026-03-01\n")
    assert 0 == ran.code
    assert before.startswith("Before the work\n!  Write-protect every disk")
    assert "\n!  Isopropyl alcohol: danger." in before
    assert before.endswith("\n!  Where local rules ask for a qualified person, they decide, not this sheet.\n")
    assert "!  isopropyl alcohol 99 %: Store it closed" in before
    assert (
        """\
done      set spindle speed, clean head
minutes   20
standing  ready since 2026-03-01

Before and after
measurement     as found           as left    limit           instrument
spindle speed   306.1 r/min, high  300 r/min  295.5 to 304.5  bench counter
head condition                     pass                       by eye

Used and left
supply                  lot  used      by        left in lot  left in drawer
isopropyl alcohol 99 %  A-1  10 ml     measured  0 ml         198 ml
isopropyl alcohol 99 %  A-2  2 ml      measured  198 ml       198 ml
foam swab, lint-free    S-1  3 pieces  measured  47 pieces    47 pieces

Due next
procedure                   due         days over  why
clean head                  2027-03-01     in 365  12 months since 1 Mar 2026
visual check of capacitors  2028-03-01     in 731  unused for 24 months since 1 Mar 2026
store away                  2028-03-01     in 731  unused for 24 months since 1 Mar 2026
"""
        == after
    )


def test_cautions_are_shown_though_the_act_is_refused(book: Path, engine_of: Engine) -> None:
    """Whoever is refused has read them all the same; the reason is on standard error, and nothing is written."""
    before = digest(engine_of)

    ran = _run(book, "record", "D4", *SPEED, "--as-left", "spindle speed=304.6", "--outcome", "ready")

    assert (1, before) == (ran.code, digest(engine_of))
    assert "Write-protect every disk" in ran.out
    assert (
        "D4 is not called ready: spindle speed as left is 304.6 r/min, limit 304.5.\n"
        'Type --outcome "on the bench"; or give a reason: --anyway "REASON".\n'
    ) == ran.err


def test_json_is_one_object_with_all_that_is_shown(book: Path) -> None:
    """Values are numbers; cautions, doubts and notes are lists."""
    told = _object(_run(book, "record", "D4", *READY, "--used", "foam swab, lint-free=3", "--json"))

    assert ("D4", "2026-03-01", "ready", ["set spindle speed"]) == (
        told["tag"],
        told["closed_on"],
        told["outcome"],
        told["procedures"],
    )
    assert [
        {
            "measurement": "spindle speed",
            "point": None,
            "as_found": 306.1,
            "as_found_says": "high",
            "as_found_instrument": "bench counter",
            "as_left": 300.0,
            "as_left_says": "within",
            "as_left_instrument": "bench counter",
            "measured_in": "r/min",
            "lower": 295.5,
            "upper": 304.5,
        }
    ] == [{key: value for key, value in row.items() if key != "limit_source"} for row in told["readings"]]
    assert [("foam swab, lint-free", 3, 47)] == [(row["supply"], row["quantity"], row["left"]) for row in told["uses"]]
    assert ([], []) == (told["doubts"], told["notes"])
    assert any("Write-protect" in caution for caution in told["cautions"])


def test_the_lists_of_a_service_have_the_documented_keys(book: Path) -> None:
    """Those that docs/json-keys.md names inside readings, uses, parts and due."""
    told = _object(
        _run(book, "record", "D1", *SPEED, "--part", "belt=belt 118 x 6", "--outcome", "on the bench", "--json")
    )
    page = (ROOT / "docs" / "json-keys.md").read_text(encoding="utf-8").split("\n## service record\n")[1]

    for key in ("readings", "uses", "parts", "due"):
        (row,) = (line for line in page.split("\n## ")[0].splitlines() if line.startswith(f"| `{key}` |"))
        assert set(re.findall(r"`(\w+)`", row.split("|")[2])) == set(told[key][0])


def test_a_file_tells_the_same_as_options_and_options_add_to_it(book: Path, tmp_path: Path) -> None:
    """Lists are joined; of a single value the option counts."""
    file = tmp_path / "service.json"
    file.write_text(
        '{"on": "2026-02-01", "did": "set spindle speed", "outcome": "donor", "instrument": "bench counter",'
        ' "as_found": [{"measurement": "spindle speed", "value": "306.1"}]}',
        encoding="utf-8-sig",
    )

    told = _object(
        _run(
            book,
            *["record", "D4", "--from", str(file), "--outcome", "ready"],
            *["--as-left", "spindle speed=300", "--json"],
        )
    )

    assert ("2026-02-01", "ready") == (told["opened_on"], told["outcome"])
    assert [(306.1, 300.0)] == [(row["as_found"], row["as_left"]) for row in told["readings"]]


def test_a_service_is_read_from_standard_input(book: Path) -> None:
    """A dash stands for it."""
    told = _object(_run(book, "record", "D4", "--from", "-", "--json", answers='{"outcome": "donor"}'))

    assert "donor" == told["outcome"]


def test_a_file_that_cannot_be_read_is_refused_by_name(book: Path, tmp_path: Path, engine_of: Engine) -> None:
    """An unknown key, bytes that are no UTF-8, and a file that is not there: one or two lines, nothing written."""
    before = digest(engine_of)
    wrong = {"unknown": b'{"as_fond": []}', "latin": b'{"findings": "na\xefve"}'}
    for name, content in wrong.items():
        (tmp_path / name).write_bytes(content)

    said = {name: _run(book, "record", "D4", "--from", str(tmp_path / name)) for name in [*wrong, "absent"]}

    assert (
        f'{tmp_path / "unknown"}: key "as_fond" is not known.\nNearest: as_found, reason, as_left.\n'
        == said["unknown"].err
    )
    assert f"{tmp_path / 'latin'}: byte 17 is no UTF-8.\nSave the file as UTF-8.\n" == said["latin"].err
    assert f"{tmp_path / 'absent'}: No such file or directory." in said["absent"].err
    assert ({1}, before) == ({ran.code for ran in said.values()}, digest(engine_of))


def test_without_a_terminal_the_sheet_is_not_booked_and_that_is_said(book: Path) -> None:
    """The amounts are named with what to type; with --by-the-sheet they are booked."""
    args = ["D4", "--did", "clean head", "--as-left", "head condition=pass", "--outcome", "ready"]

    silent = _run(book, "record", *args)
    booked = _object(_run(book, "record", *args, "--by-the-sheet", "--json"))

    assert silent.out.endswith(
        "Nothing was booked out of the drawer. By the sheet it is 1 ml of isopropyl alcohol 99 %, 2 pieces of foam"
        " swab, lint-free; to book it: spindlebook undo, then add --by-the-sheet\n"
    )
    assert [1, 2] == [row["quantity"] for row in booked["uses"]]


def test_at_a_terminal_the_sheet_is_offered(book: Path) -> None:
    """A yes books it; the table fits the 80 columns of the terminal, cautions included."""
    args = ["service", "record", "D4", "--did", "clean head", "--as-left", "head condition=pass", "--outcome", "ready"]
    child = pexpect.spawn(
        sys.executable,
        [*warm_program()[1:], "--db", str(book), "--today", TODAY.isoformat(), *args],
        env={**environment(), "TERM": "xterm"},
        dimensions=(60, 80),
        encoding="utf-8",
        timeout=60,
    )
    child.expect_exact("Book it? [y/N]: ")
    before = str(child.before)
    child.sendline("y")
    child.expect(pexpect.EOF)
    after = str(child.before)
    child.close()

    assert 0 == child.exitstatus
    assert "1 ml       sheet  9 ml" in after.replace("1 ml      sheet", "1 ml       sheet")
    assert all(len(line) <= 80 for line in before.partition("By the sheet")[0].splitlines())


def test_doubts_are_said_below_the_tables(book: Path) -> None:
    """What was booked with a mark is said, so that it can be put right at once."""
    ran = _run(
        book,
        *["record", "D4", "--as-found", "spindle speed=3000 @bench counter", "--used", "belt 118 x 6=3"],
        *["--outcome", "on the bench"],
    )

    assert "belt 118 x 6       1 piece short" in ran.out
    assert ran.out.endswith(
        "\nDoubtful: spindle speed 3000: ten times nominal; typed wrong?\n"
        "Doubtful: belt 118 x 6 1 piece: 3 pieces used, 2 pieces in the book: please count\n"
    )


def test_a_service_over_days_shows_its_cautions_at_its_opening(book: Path) -> None:
    """Opening names what shall be done; adding and closing show the whole service so far."""
    opened = _run(
        book, "open", "D1", "--for", "replace belt", "--as-found", "belt condition=fail", "--on", "2026-02-20"
    )
    added = _run(book, "add", "D1", "--did", "replace belt", "--part", "belt=belt 118 x 6", "--on", "2026-02-21")
    closed = _run(
        book,
        *["close", "D1", "--instrument", "bench counter", "--as-left", "spindle speed=300"],
        *["--as-left", "belt condition=pass", "--outcome", "in use"],
    )

    assert [0, 0, 0] == [opened.code, added.code, closed.code]
    assert "gloves on, bench covered" in opened.out
    assert "\nD1: service open since 2026-02-20\n" in opened.out
    assert "standing  on the bench since 2026-02-20\n" in opened.out
    assert "belt 118 x 6: No solvent on rubber" in added.out
    assert "to book it: spindlebook service add D1 --by-the-sheet\n" in added.out
    assert "D1: service of 2026-02-20 to 2026-03-01\n" in closed.out
    assert "belt  belt 118 x 6, lot B-1\n" in closed.out


def test_opening_without_a_plan_shows_the_cautions_of_all_that_applies(book: Path) -> None:
    """On a supply unit without history these are the mains cautions."""
    ran = _run(book, "open", "P1")

    assert "Mains inside the case can kill." in ran.out.partition("P1: service open")[0]


def test_a_mistyped_reading_shows_the_form(book: Path) -> None:
    """The refusal shows what was typed and how to type it."""
    ran = _run(book, "record", "D4", "--as-left", "spindle speed 300")

    assert 1 == ran.code
    assert (
        '"spindle speed 300" is no reading.\nType it as "spindle speed=301.2", "rail voltage[+5 V]=5.02" or'
        ' "spindle speed=199.2 ms @counter".\n'
    ) == ran.err


def test_an_unknown_tag_is_refused_with_the_nearest(book: Path) -> None:
    """Three tags that look alike are offered."""
    ran = _run(book, "record", "D44")

    assert (1, 'No unit has the tag "D44".') == (ran.code, ran.err.splitlines()[0])
    assert "D4" in ran.err.splitlines()[1]


def test_recording_a_service_loads_nothing_heavy(book: Path) -> None:
    """Workbooks, migrations and plots are not needed for it."""
    script = "import sys\nfrom collection.cli.main import run\nprint(run(sys.argv[1:]), '|', *sys.modules)"
    args = ["--db", str(book), "--today", TODAY.isoformat(), "service", "record", "D4", *READY]

    code, *loaded = run_python(script, *args).out.splitlines()[-1].split()

    assert "0" == code
    assert set() == {name.split(".")[0] for name in loaded} & {"pandas", "openpyxl", "alembic", "matplotlib", "scipy"}
