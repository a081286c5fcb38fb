"""Every command, in every state a book can be in: it does its work or says in one or two lines why not.

The commands are found by walking the program, so that a new one cannot be left out.
"""

from __future__ import annotations

import json
import shlex
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import click
import pytest

from collection.cli.main import program as root
from collection.store.engine import open_engine
from tests.support.books import digest
from tests.support.cli import Ran, run_cli

# A line of each command that can be typed on the demo's book; {here} is a folder of the test's own.
TYPED = """
start
import {here}/csv --yes
due
drift
unit add X1 --model "VK 410"
unit edit D1 --note seen
unit enter D1 --location bench
unit arrivals D1
unit dispose D1 --how scrapped --reason worn
unit edit-disposal D1 --note "the belt was kept"
unit disposals D1
unit uses D1
arrival D1 --damage scratched
unit cost D1
unit turn D1 --screw "speed trimmer" clockwise 1/8
unit list
unit lubricated D1 rails "rail grease, lithium NLGI 2"
unit show D1
service add D1 --findings seen
service close D1 --outcome ready
service open D1
service record D1 --findings seen
service resume
reading add D1 "spindle speed" 300.1 --instrument "bench counter"
reading list D1
reading set-aside D1 --number 1 --reason slipped
supply add wool --kind spare --measured-in piece
supply count "drying sachet, 10 g" 19
supply discard "drying sachet, 10 g" 1 --reason spilt
supply history "drying sachet, 10 g"
supply inspect "drying sachet, 10 g" DS-1 --result pass
supply list
supply move "drying sachet, 10 g" bench
supply open "drying sachet, 10 g"
supply receive "drying sachet, 10 g" 5
supply repack "drying sachet, 10 g" 5 --into DS-2
supply return "drying sachet, 10 g" 1
supply reverse "drying sachet, 10 g" 3 --reason wrong
supply show "drying sachet, 10 g"
supply use "drying sachet, 10 g" 1
stock
reorder
undo
demo
where
book set --accepted-risk 5%
help
export workbook {here}/book.xlsx
export folder {here}/out
plan
instrument add "bench counter 2" --for "spindle speed"
instrument check "bench counter" pass
instrument compare "hand strobe" "bench counter"
instrument edit "bench counter" --check-every 12
chart D1
report bench-sheet D1 --to {here}/sheet.html
report due --to {here}/sheet.html
report receipt D1 --to {here}/receipt.html
report damage DL1 --to {here}/damage.html
report emergency --to {here}/emergency.html
report disposal D1 --to {here}/disposal.html
report round-sheet --of "spindle speed" --to {here}/sheet.html
report shopping --to {here}/sheet.html
report unit-history D13 --to {here}/history.html
report loan-slip D4 --to {here}/sheet.html
report year 2023 --to {here}/year.html
report copy order-sheet {here}/own
consumption
intervals
instrument list
instrument repaired "bench counter" --reason "new crystal"
instrument retire "hand strobe" --reason "lamp gone"
instrument show "bench counter"
medium add "cleaning disk 1" --role cleaning
medium check "cleaning disk 1" pass
medium edit "cleaning disk 1" --most-uses 30
medium list
medium retire "cleaning disk 1" --reason worn
medium show "cleaning disk 1"
medium use "cleaning disk 1" 2
round --of "spindle speed" D1=300.1 --instrument "bench counter"
fault add D1 hums
fault close D14 --cause bent --cure straightened
fault edit D14 --cause bent
fault find read errors
fault list
emergency
damage add D1 dented --circumstances fell
damage close DL1 --outcome mended
damage edit DL1 --actions "left as it is"
damage list D1
damage show DL1
condition add D1 --condition "no scratches" --by "Tobin Marrask"
condition list
condition unchecked
safety add D1 pass --by "Orla Penhaddock"
safety list
inventory
sighting add D1 --at bench
sighting list
shelf-check "shelf A" --tags D1,D2
unit move D1 --to bench --by "Wen Salloway"
unit places D1
label D1 --to {here}/label.html
calendar {here}/all.ics
photo add D1 {here}/front.png --title front
photo edit D1 1 --title back
photo list D1
photo save D1 1 {here}/saved.png
procedure list
procedure show "clean head"
procedure add "listen to it" --triggers "symptom hum"
procedure edit "clean head" --minutes 12
procedure amount "clean head" "lint-free cloth" 1
limit list
limit add ripple --unit D1 --upper 90
limit edit "spindle speed" --class "300 r/min" --lower 294 --reason looser
limit drop "spindle speed" --class "300 r/min" --reason wrong
model list
model show "VK 410"
model edit "VK 410" --note seen
location list
location add attic
location edit bench --note swept
measurement list
measurement add "fan speed" --measured-in r/min
measurement edit "spindle speed" --note "at the hub"
person edit "Wen Salloway" --phone 555
supply edit "drying sachet, 10 g" --note dry
supply edit-lot "drying sachet, 10 g" DS-1 --note dry
order edit-supplier "Sable Lane Belts" --lead-days 9
order edit-offer "Gannet Row Spares" "drying sachet, 10 g" --price 6
loan edit L-3 --due 2026-05-01 --reason misread
loan edit-unit L-3 D4 --along cable --reason forgotten
service edit D1 --minutes 90 --reason counted
pairing add D1 P2
pairing end D1
pairing list
wanted add D1 lamp
wanted list
wanted got D1 lamp
wanted drop D1 lamp --reason mended
part edit D4 belt --fitted-on 2020-05-01 --reason "wrong day"
part fit D1 head --donor D7
part list D1
part remove D1 front --reason broken
person add "Ansa Lindqvell"
person list
person show "Wen Salloway"
person forget "Ebba Tarnquist" --reason left --yes
order cancel O-6
order confirm O-6 2026-06-01
order drop-offer "Gannet Row Spares" "drying sachet, 10 g"
order list
order offers
order receive O-6
order suppliers
order offer "Sable Lane Belts" "drying sachet, 10 g" 10 4.00
order place "Sable Lane Belts" "drying sachet, 10 g=1"
order supplier Nordlager
loan back D4
loan deposit L-1
loan extend L-3 --due 2026-05-15 --all-the-same agreed
loan give-back P6
loan in P4 --from "Nils Ovaskerry" --due 2026-09-01 --all-the-same "he keeps it for the club"
loan list
loan overdue
loan reservations
loan reserve D1 --to "Wen Salloway" --from 2026-04-01 --until 2026-04-05
loan show L-1
loan unreserve D1
loan out D1 --to "Wen Salloway" --due 2026-04-01
policy add QM-78/1 --to 2026-12-31 --insured 2000
policy edit QM-77/2 --insured 1600
policy list
report insurance --workbook {here}/insured.xlsx --to {here}/insured.html
value add D1 120 --basis market
value list
history
verify
backup take {here}/copy
backup list
backup prune
restore {here}/saved --yes
move-to {here}/moved
upgrade
completion bash
"""
CLEANING_DISK = 'medium add "cleaning disk 1" --role cleaning'
FIRST = {
    "pairing end": "pairing add D1 P2",
    **{f"medium {word}": CLEANING_DISK for word in ("check", "edit", "retire", "show", "use")},
    "wanted got": "wanted add D1 lamp",
    "wanted drop": "wanted add D1 lamp",
    "service add": "service open D1",
    "service close": "service open D1",
    "loan unreserve": 'loan reserve D1 --to "Wen Salloway" --from 2026-04-01 --until 2026-04-05',
    "report receipt": "arrival D1",
    "report disposal": "unit dispose D1 --how scrapped --reason worn",
    "report damage": "damage add D1 dented",
    "unit edit-disposal": "unit dispose D1 --how scrapped --reason worn",
    **{f"damage {word}": "damage add D1 dented" for word in ("close", "edit", "show")},
    "photo edit": "photo add D1 {here}/front.png",
    "photo list": "photo add D1 {here}/front.png",
    "photo save": "photo add D1 {here}/front.png",
}
NEEDS_NO_BOOK = {"help", "report copy", "start", "demo", "where", "completion", "restore"}


def _commands() -> dict[str, click.Command]:
    """Return every command that does something, by the words that call it."""

    def walk(command: click.Command, context: click.Context, words: str) -> Iterator[tuple[str, click.Command]]:
        if not isinstance(command, click.Group):
            yield words, command
            return
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            assert found is not None
            yield from walk(found, click.Context(found, parent=context, info_name=name), f"{words} {name}".strip())

    return dict(walk(root, click.Context(root), ""))


COMMANDS = _commands()
LINES = {
    max((name for name in COMMANDS if f"{line} ".startswith(f"{name} ")), key=len, default=line): line
    for line in TYPED.strip().splitlines()
}
WITH_JSON = [name for name in LINES if any("--json" in parameter.opts for parameter in COMMANDS[name].params)]
WITH_CSV = [name for name in LINES if any("--csv" in parameter.opts for parameter in COMMANDS[name].params)]
TAGGED = [
    name
    for name in LINES
    if any(parameter.name in ("tag", "tags") for parameter in COMMANDS[name].params) and name != "unit add"
]


@pytest.fixture(scope="module")
def demo(built_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo's book with a backup of it beside it."""
    folder = tmp_path_factory.mktemp("demo")
    shutil.copy(built_demo, folder / "demo")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HOME", str(folder / "home"))
        assert 0 == run_cli(["backup", str(folder / "saved")], db=folder / "demo").code
    return folder / "demo"


@pytest.fixture
def here(demo: Path, tmp_path: Path) -> Path:
    """Return a folder with what the lines name: a backup and CSV files."""
    for name in ("saved", "saved.manifest.json"):
        (tmp_path / name).hardlink_to(demo.with_name(name))
    (tmp_path / "front.png").write_bytes(b"\x89PNG\r\n\x1a\n and so on")
    (tmp_path / "csv").mkdir()
    (tmp_path / "csv" / "locations.csv").write_text("location\nattic\n", encoding="utf-8")
    return tmp_path


def _words(name: str, here: Path) -> list[str]:
    return [word.replace("{here}", str(here)) for word in shlex.split(LINES[name])]


def _run(name: str, here: Path, book: Path, *more: str) -> Ran:
    for line in filter(None, [FIRST.get(name)]):
        assert 0 == run_cli(shlex.split(line.replace("{here}", str(here))), db=book).code
    return run_cli([*_words(name, here), *more], db=book)


def _own_copy(demo: Path, here: Path, name: str) -> Path:
    """Return a book of this test alone; a new place for a command that makes one."""
    return here / "new" if name == "start" else Path(shutil.copy(demo, here / "book"))


def _the_same(one: Path, other: Path) -> bool:
    """Say whether two books hold the same; files that are alike need not be read row by row."""
    if one.read_bytes() == other.read_bytes():
        return True
    return digest(open_engine(str(one))) == digest(open_engine(str(other)))


def _in_two_lines(ran: Ran) -> bool:
    return 1 <= len(ran.err.splitlines()) <= 2 and "Traceback" not in ran.err


def test_every_command_has_a_line_to_try() -> None:
    """A new command must be given one here before it passes."""
    assert sorted(COMMANDS) == sorted(LINES)


@pytest.mark.usefixtures("looked_at")
@pytest.mark.parametrize("name", LINES)
def test_each_line_works_on_the_demo(demo: Path, here: Path, name: str) -> None:
    """What the other tests break works as long as nothing is broken."""
    ran = _run(name, here, _own_copy(demo, here, name))

    assert 0 == ran.code, ran


@pytest.mark.usefixtures("looked_at")
@pytest.mark.parametrize("name", WITH_JSON)
def test_json_can_be_parsed(demo: Path, here: Path, name: str) -> None:
    """Standard output holds one JSON value and nothing else."""
    ran = _run(name, here, _own_copy(demo, here, name), "--json")

    assert 0 == ran.code, ran
    assert isinstance(json.loads(ran.out), list | dict)


@pytest.mark.parametrize("name", WITH_JSON)
def test_json_of_an_empty_book_can_be_parsed(here: Path, sqlite_book: Path, name: str) -> None:
    """A program gets JSON from an empty book too, or an exit code and nothing on standard output."""
    if name in FIRST:
        return
    ran = run_cli([*_words(name, here), "--json"], db=sqlite_book)

    assert isinstance(json.loads(ran.out), list | dict) if ran.code == 0 else "" == ran.out


@pytest.mark.parametrize("name", [name for name in LINES if name not in FIRST])
def test_an_empty_book_is_no_failure_of_the_program(
    here: Path, sqlite_template: Path, sqlite_book: Path, name: str
) -> None:
    """It lists nothing, does its work, or refuses in two lines and changes nothing."""
    ran = run_cli(_words(name, here), db=sqlite_book)

    assert ran.code in (0, 1)
    if ran.code == 1:
        assert _in_two_lines(ran), ran
        assert _the_same(sqlite_template, sqlite_book)


@pytest.mark.parametrize("name", sorted(LINES.keys() - NEEDS_NO_BOOK))
def test_without_a_book_every_command_says_how_to_start_one(here: Path, name: str) -> None:
    """Exit code 5, two lines, and nothing is made in its place."""
    place = here / "nowhere" / "book"

    ran = run_cli(_words(name, here), db=place)

    assert Ran(5, "", f"There is no book at {place}.\nType: spindlebook start (or: spindlebook demo)\n") == ran
    assert not place.parent.exists()


@pytest.fixture(scope="module")
def no_books(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> dict[Path, str]:
    """Return places where something else than a book of this version stands, each with what is said of it."""
    folder = tmp_path_factory.mktemp("no books")
    (folder / "folder").mkdir()
    (folder / "empty").touch()
    (folder / "text").write_text("dear aunt\n" * 99, encoding="utf-8")
    with closing(sqlite3.connect(folder / "foreign")) as connection, connection:
        connection.execute("CREATE TABLE seal (id INTEGER PRIMARY KEY, letter TEXT)")
    shutil.copy(sqlite_template, folder / "newer")
    with closing(sqlite3.connect(folder / "newer")) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    foreign = dict.fromkeys(("text", "foreign"), "is not a book of this program")
    said = {"folder": "There is no book at", "empty": "is an empty file, no book", **foreign, "newer": "newer version"}
    return {folder / name: words for name, words in said.items()}


def _bytes(place: Path) -> object:
    return list(place.iterdir()) if place.is_dir() else place.read_bytes()


@pytest.mark.parametrize("name", sorted(LINES.keys() - NEEDS_NO_BOOK))
def test_what_is_no_book_of_this_version_is_left_as_it_is(no_books: dict[Path, str], here: Path, name: str) -> None:
    """Folder, empty file, text, foreign database, newer book: exit code 5, two lines, not one byte changed."""
    for place, words in no_books.items():
        before = _bytes(place)

        ran = run_cli(_words(name, here), db=place)

        assert before == _bytes(place)
        assert (5, "") == (ran.code, ran.out), ran
        assert _in_two_lines(ran), ran
        assert words in ran.err


@pytest.mark.parametrize("name", ["start", "demo", "restore"])
def test_a_book_is_put_over_nothing_that_is_no_book(no_books: dict[Path, str], here: Path, name: str) -> None:
    """Only an empty file may be restored over, since it holds nothing."""
    for place in no_books:
        if (name, place.name) == ("restore", "empty"):
            continue
        before = _bytes(place)

        ran = run_cli(_words(name, here), db=place)

        assert before == _bytes(place)
        assert ran.code == (5 if name == "restore" else 1), ran
        assert _in_two_lines(ran), ran


def test_where_tells_of_any_place_what_is_there(no_books: dict[Path, str]) -> None:
    """Whoever mistyped the place sees it, with the reason why it does not do."""
    for place, words in no_books.items():
        ran = run_cli(["where"], db=place)

        assert (0, "") == (ran.code, ran.err)
        assert words in ran.out


@pytest.mark.usefixtures("looked_at")
@pytest.mark.parametrize("name", TAGGED)
def test_an_unknown_tag_is_refused_with_the_nearest(demo: Path, here: Path, name: str) -> None:
    """The refusal names the tag, offers the nearest, and nothing is written."""
    book = _own_copy(demo, here, name)
    words = [word if word not in ("D1", "D4", "D13", "D14", "P4", "P6") else "D111" for word in _words(name, here)]
    words += {
        "consumption": ["--unit", "D111"],
        "drift": ["D111"],
        "fault list": ["D111"],
        "history": ["D111"],
        "condition list": ["D111"],
        **{f"loan {word}": ["--unit", "D111"] for word in ("list", "reservations")},
        "safety list": ["D111"],
        "sighting list": ["D111"],
        "service resume": ["D111"],
        "report round-sheet": ["D111"],
        "value list": ["D111"],
        "wanted list": ["D111"],
        "pairing list": ["D111"],
        "supply use": ["--unit", "D111"],
    }.get(name, [])

    ran = run_cli(words, db=book)

    assert 1 == ran.code
    assert "D111" in ran.err
    assert "D11" in ran.err.replace("D111", "")
    assert _in_two_lines(ran), ran
    assert _the_same(demo, book)
