"""A club's year, typed line by line on both databases, against totals that were worked out by hand beforehand.

Members join, forty loans go out and come back, one unit comes back damaged and one is lost, a shelf is held against the
book, two keepers type at two terminals, the book moves to another database, a disk is lost and a backup restored.

The plan. In each of ten months, February to November, four loans go out on the 5th and are due on the 25th: D1 with its
supply unit P1 against a deposit of 20 EUR; D2; D3 with D4; D5. They come back on the 20th, but: in June D1 comes with a
cracked lid, and 15 of its 20 EUR go back; in September P1 comes without its lead; in November D4 is lost and D5 stays
out. So the year ends with:

- 40 loans of 60 units, all back or lost but D5, which is 20 days over on 15 December
- 10 x 20 = 200 EUR of deposits, of which 9 x 20 + 15 = 195 EUR went back
- readings of spindle speed: 5 in January, 9 x 5 as drives came back, 3 in November: 53
- swabs: 400 bought, 2 keepers x 6 acts x 3 taken leave 364, and the count in December finds 362
- seen by nobody since 15 July: D6 and D7, which no one borrowed
"""

from __future__ import annotations

import json
import shlex
from collections import Counter
from contextlib import ExitStack
from datetime import date
from pathlib import Path
from typing import Any

from collection.store.engine import fetch, open_engine, reading
from collection.views.verify import verify
from tests.support.books import scalar
from tests.support.cli import Ran, run_cli
from tests.support.kills import Children
from tests.support.postgres import Server

SWAB = "foam swab, lint-free"
DRIVES = ("D1", "D2", "D3", "D4", "D5", "D6", "D7")
LENT = ("D1 P1", "D2", "D3 D4", "D5")  # the four loans of a month
MONTHS = range(2, 12)
KEEPER, SECOND, ISSUER = "Maren Quist", "Tove Harrow", "Bo Lindgard"
MEMBERS = ("Ansel Varga", "Petra Low", "Rune Castell", "Sunna Beck")
FILES = {
    "models.csv": ["model,maker,kind,drive_type,nominal_speed,supply_inside",
                   "DK 40,Invented Drives,drive,direct adjustable,300,no",
                   "PS 2,Invented Drives,supply unit,,,yes"],
    "locations.csv": ["location", "shelf A", "shelf B"],
    "instruments.csv": ["instrument,measurement", "bench counter,spindle speed"],
    "units.csv": ["tag,model,location,standing,owner",
                  *(f"{tag},DK 40,{'shelf B' if tag == 'D7' else 'shelf A'},ready,The Club" for tag in DRIVES),
                  "P1,PS 2,shelf A,ready,The Club"],
    "people.csv": ["person,role", "The Club,owner", f"{KEEPER},keeper", f"{ISSUER},issuer"],
    "services.csv": ["service,tag,opened_on,closed_on,procedures",
                     *(f"s{tag},{tag},2026-01-10,2026-01-10,dust out; clean head; clean and re-lube rails;"
                       "check spindle speed; visual check of capacitors" for tag in DRIVES),
                     "sP1,P1,2026-01-10,2026-01-10,dust out; rail and ripple check; visual check of capacitors"],
    "readings.csv": ["tag,measurement,taken_on,instrument,value,stage",
                     *(f"{tag},spindle speed,2026-01-10,bench counter,300.0,as left" for tag in DRIVES[:5])],
}  # fmt: skip


class Terminal:
    """Where somebody types on a day; what is refused without being expected ends the test."""

    def __init__(self, book: str) -> None:
        self.book = book
        self.written = 1  # acts of the book; the first began it

    def types(
        self, who: str, day: str, line: str, *, code: int = 0, writes: bool = True, answers: str | None = None
    ) -> Ran:
        """Type one line and return what it said; what is refused writes nothing."""
        words = [*(("--who", who) if who else ()), *shlex.split(line)]
        ran = run_cli(words, db=self.book, today=date.fromisoformat(day), answers=answers)
        assert (line, code) == (line, ran.code), ran.err + ran.out
        self.written += writes and code == 0
        return ran

    def lists(self, day: str, line: str) -> list[dict[str, Any]]:
        """Return the rows of a list."""
        rows: list[dict[str, Any]] = json.loads(self.types("", day, f"{line} --json", writes=False).out)
        return rows

    def keeps_its_rules(self) -> None:
        """Hold the book against its rules."""
        with reading(open_engine(self.book)) as connection:
            assert [] == verify(connection).broken


def _begin(at: Terminal, folder: Path) -> None:
    """Make the book of the club: units, people, what they can do; members join."""
    folder.mkdir()
    for name, lines in FILES.items():
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    at.types("", "2026-01-10", f"import {shlex.quote(str(folder))} --yes")
    at.types(KEEPER, "2026-01-10", f"person add '{SECOND}' --role keeper")
    for member in MEMBERS:
        at.types(KEEPER, "2026-01-10", f"person add '{member}'")
    at.types(KEEPER, "2026-01-10", "person add 'Drive Museum' --role outside")
    for procedure in ("clean head", "rail and ripple check"):  # after a loan this club looks at speed and condition
        at.types(KEEPER, "2026-01-10", f"procedure edit '{procedure}' --triggers 'after arrival' --reason 'enough'")
    at.types(KEEPER, "2026-01-10", f"safety add P1 pass --by '{KEEPER}' --good-through 2026-12-31")
    at.types(KEEPER, "2026-01-10", f"supply receive '{SWAB}' 400 --lot S-1")


def _lend_and_take_back(at: Terminal, month: int) -> None:
    """Lend four times and take back in one, then check what was out, as the rules of the shelf ask."""
    out, back, due = (f"2026-{month:02}-{day:02}" for day in (5, 20, 25))
    for number, tags in enumerate(LENT):
        terms = "--deposit 20 --along 'P1: mains lead'" if tags == "D1 P1" else ""
        at.types(ISSUER, out, f"loan out {tags} --to '{MEMBERS[number]}' --due {due} {terms}")
    if month == 3:
        at.types(ISSUER, "2026-03-18", "loan extend D2 --due 2026-04-02")
    told, tags, drives = "--condition 'P1: as it went'", "D1 P1 D2 D3 D4 D5", "D1 D2 D3 D4 D5"
    if month == 6:
        told += " --condition 'D1: lid cracked' --damage 'D1: lid cracked' --estimate 'D1: 40'"
    if month == 9:
        told += " --missing 'P1: mains lead'"
    if month == 11:
        tags, drives = "D1 P1 D2 D3", "D1 D2 D3"
    at.types(ISSUER, back, f"loan back {tags} {told}")
    kept = "15 --reason 'towards the lid'" if month == 6 else "20"
    at.types(ISSUER, back, f"loan deposit L{(month - MONTHS[0]) * len(LENT) + 1} {kept}")
    speeds = " ".join(f"{drive}=300.1" for drive in drives.split())
    checked = f"--of 'spindle speed' --instrument 'bench counter' {speeds}"
    at.types(KEEPER, back, f"round --did 'check spindle speed' {checked}")


def _two_keepers(at: Terminal, forks: Children) -> None:
    """Let two keepers take swabs out of one lot at the same time, each at a terminal of their own."""
    day = ["--db", at.book, "--today", "2026-04-26"]
    lines = [[[*day, "--who", who, "supply", "use", SWAB, "3"]] * 6 for who in (KEEPER, SECOND)]
    answers = [answer for told in forks.run(*lines) for answer in told]
    assert [0] * 12 == [code for code, _, _ in answers]
    at.written += 12


def _keep_for_one(at: Terminal) -> None:
    """Keep a drive for a member, so that another does not get it; refuse what is not for the role of who types."""
    at.types(ISSUER, "2026-05-01", f"loan reserve D5 --to '{MEMBERS[3]}' --from 2026-05-01 --until 2026-05-30")
    at.types(ISSUER, "2026-05-03", f"loan out D5 --to '{MEMBERS[1]}' --due 2026-05-20", code=1)
    at.types(ISSUER, "2026-05-03", "unit edit D5 --note mine", code=1)
    at.types(MEMBERS[1], "2026-05-03", f"loan out D6 --to '{MEMBERS[1]}' --due 2026-05-20", code=1)


def _check_the_shelf(at: Terminal) -> None:
    """Hold shelf A against the book: D7 stands there, D6 does not; it turns up a week later."""
    there = "D1\nD2\nD3\nD4\nD5\nD7\nP1\n"
    line = "shelf-check 'shelf A' --move --call-missing --json"
    found = json.loads(at.types(SECOND, "2026-06-25", line, answers=there).out)
    assert {"D6", "D7"} == {row["tag"] for row in found}
    at.types(SECOND, "2026-07-02", "unit enter D6 --standing ready --reason 'stood behind the door'")


def _borrow(at: Terminal) -> None:
    """Borrow a drive of the museum for a week."""
    at.types(KEEPER, "2026-11-21", "unit add B1 --model 'DK 40'")
    at.types(ISSUER, "2026-11-21", "loan in B1 --from 'Drive Museum' --due 2026-12-31 --cover 'theirs, 200 EUR'")
    at.types(ISSUER, "2026-11-28", "loan give-back B1")


def _last_acts(at: Terminal) -> None:
    """What was typed after the backup, and is typed again after the loss of the disk."""
    told = "loan back D4 --lost 'moved away, and nothing was heard since'"
    at.types(ISSUER, "2026-12-01", told)
    at.types(KEEPER, "2026-12-02", f"supply count '{SWAB}' 362")
    at.types(KEEPER, "2026-12-03", "unit edit D2 --note 'rails whine when cold'")


def test_a_year_of_a_club_ends_with_what_was_worked_out(
    forks: Children, book_url: str, postgres: Server, tmp_path: Path
) -> None:
    """Nothing is lost on the way, no rule of the book is broken, and every total is the one of the plan."""
    with ExitStack() as databases:

        def elsewhere(name: str, *, on_server: bool) -> str:
            return databases.enter_context(postgres.copy("template0")) if on_server else str(tmp_path / name)

        on_server = "://" in book_url
        at = Terminal(book_url)
        _begin(at, tmp_path / "csv")
        for month in MONTHS:
            if month == 5:
                _two_keepers(at, forks)
                _keep_for_one(at)
            _lend_and_take_back(at, month)
            if month == 6:
                _check_the_shelf(at)
            if month == 7:  # to a server, or from one back to a file
                moved = elsewhere("moved", on_server=not on_server)
                at.types("", "2026-07-25", f"move-to '{moved}'", writes=False)
                at.book = moved
                at.keeps_its_rules()
        _borrow(at)

        at.types("", "2026-11-30", f"backup '{tmp_path / 'saved'}'", writes=False)
        written = at.written
        _last_acts(at)
        at.book = elsewhere("new disk", on_server=not on_server)  # what stood on the old one is lost
        at.types("", "2026-12-05", f"restore '{tmp_path / 'saved'}' --yes", writes=False)
        at.keeps_its_rules()
        assert written == scalar(open_engine(at.book), "SELECT count(*) FROM act")
        at.written = written
        _last_acts(at)
        _end(at)


def _end(at: Terminal) -> None:
    day = "2026-12-15"
    lent = [row for row in at.lists(day, "loan list --all") if row["direction"] == "out"]
    assert (40, 60) == (len({row["loan"] for row in lent}), len(lent))
    assert {"D1": 10, "P1": 10, "D2": 10, "D3": 10, "D4": 10, "D5": 10} == Counter(row["tag"] for row in lent)
    assert [("D5", 20)] == [(row["tag"], row["days_over"]) for row in at.lists(day, "loan list")]
    assert [["D5"]] == [row["tags"] for row in at.lists(day, "loan overdue")]
    book = open_engine(at.book)
    deposits = "SELECT sum(deposit_minor), sum(deposit_back_minor) FROM loan WHERE void = 0"
    with reading(book) as connection:
        assert (20_000, 19_500) == tuple(fetch(connection, deposits)[0])
    speeds = """
        SELECT count(*) FROM reading r JOIN series s ON s.id = r.series_id JOIN measurement m ON m.id = s.measurement_id
        WHERE m.name = 'spindle speed' AND r.act_id NOT IN (SELECT act_id FROM undone)
    """
    assert 53 == scalar(book, speeds)
    assert 362 == sum(row["quantity"] for row in at.lists(day, "stock") if row["supply"] == SWAB)
    damage = at.lists(day, "damage list")
    assert {("D1", "damage"), ("P1", "loss"), ("D4", "loss")} == {(row["tag"], row["kind"]) for row in damage}
    standing = {row["tag"]: row["standing"] for row in at.lists(day, "unit list")}
    ready = dict.fromkeys(("D1", "D2", "D3", "D6", "D7", "P1"), "ready")
    assert ready | {"D4": "missing", "D5": "on loan", "B1": "gone"} == standing
    assert {"D6", "D7"} == {row["tag"] for row in at.lists(day, "inventory --not-seen 5months")}

    at.types(KEEPER, day, f"person forget '{MEMBERS[3]}' --reason 'left the club' --yes", code=1)  # has D5
    at.types(KEEPER, day, f"person forget '{MEMBERS[1]}' --reason 'left the club' --yes")
    assert 40 == len({row["loan"] for row in at.lists(day, "loan list --all") if row["direction"] == "out"})
    assert at.written == scalar(book, "SELECT count(*) FROM act")
    at.keeps_its_rules()
