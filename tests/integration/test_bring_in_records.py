"""Records of the folder: what is new, the same, changed or refused, by key and by name."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.views.verify import verify
from tests.support.folders import SMALL, bring, findings, plan, refusals, rows
from tests.support.times import NOW, TODAY

KEY = "0198c9a0-0000-7000-8000-00000000000a"


def test_a_folder_brought_in_twice_adds_nothing(engine: Engine) -> None:
    """Importing the same folder again is nothing to do."""
    first = bring(engine, SMALL)
    again = plan(engine, SMALL)

    assert (first.totals["new"], first.totals["same"]) == (6, 0)
    assert again.changes_nothing
    assert (again.totals["new"], again.totals["same"]) == (0, 6)


def test_an_empty_cell_leaves_the_value_and_another_value_changes_it(engine: Engine) -> None:
    """Absent means not said; one edited cell is one change that names what was."""
    bring(engine, {**SMALL, "units": "tag,model,serial,note\nD1,VK 1,S-1,first\nD2,VK 1,,\n"})

    made = bring(engine, {"units": "tag,model,serial,note\nD1,VK 1,,second\nD2,VK 1,,\n"})

    (changed,) = findings(made, "changed")
    assert (changed.record, changed.row, changed.column) == ("unit D1", 2, "note")
    assert (changed.value, changed.rule) == ("second", "was first")
    assert made.totals["same"] == 1
    assert rows(engine, "SELECT serial, note, version FROM unit WHERE tag = 'D1'") == [("S-1", "second", 2)]


@pytest.mark.parametrize("tag", ["d1", " D1 ", "\N{FULLWIDTH LATIN CAPITAL LETTER D}1"])
def test_a_tag_is_known_by_its_folded_form(engine: Engine, tag: str) -> None:
    """Capitals, blanks and wide letters make no other unit, and no change of its spelling."""
    bring(engine, SMALL)

    assert plan(engine, {"units": f"tag,model\n{tag},VK 1\n"}).changes_nothing


def test_a_key_wins_over_the_name_and_keeps_the_old_tag_as_an_alias(engine: Engine) -> None:
    """A row whose key the book has renames its unit; the old tag still leads to it and to no other."""
    bring(engine, {**SMALL, "units": f"tag,model,key\nD1,VK 1,{KEY}\n"})

    made = bring(engine, {"units": f"tag,model,key\nE7,VK 1,{KEY}\n", "hours": "tag,read_on,hours\nE7,2026-01-01,3\n"})

    assert [(each.column, each.rule) for each in findings(made, "changed")] == [("tag", "was D1")]
    assert rows(engine, "SELECT tag, key FROM unit") == [("E7", KEY)]
    assert plan(engine, {"hours": "tag,read_on,hours\nD1,2026-01-01,3\n"}).changes_nothing
    assert refusals(plan(engine, {"faults": "tag,noticed_on,symptom\nX9,2026-01-01,hum\n"})) != []


def test_a_row_with_a_key_gives_a_unit_a_tag_that_it_had_before(engine: Engine) -> None:
    """The tag it leaves takes the place of the alias; without the key, the former tag finds the unit and no more."""
    bring(engine, {**SMALL, "units": f"tag,model,key\nD1,VK 1,{KEY}\n"})
    bring(engine, {"units": f"tag,model,key\nE7,VK 1,{KEY}\n"})
    assert plan(engine, {"units": "tag,model\nD1,VK 1\n"}).changes_nothing

    made = bring(engine, {"units": f"tag,model,key\nD1,VK 1,{KEY}\n"})

    assert [(each.column, each.rule) for each in findings(made, "changed")] == [("tag", "was E7")]
    assert rows(engine, "SELECT u.tag, a.alias, a.void FROM unit u JOIN unit_alias a ON a.unit_id = u.id") == [
        ("D1", "E7", 0)
    ]
    assert plan(engine, {"units": f"tag,model,key\nD1,VK 1,{KEY}\n"}).changes_nothing

    undo(engine, None, today=TODAY, now=NOW)
    assert rows(engine, "SELECT u.tag, a.alias, a.void FROM unit u JOIN unit_alias a ON a.unit_id = u.id") == [
        ("E7", "D1", 0)
    ]


def test_a_key_of_another_book_falls_back_to_the_name(engine: Engine) -> None:
    """Reference data of another book have other keys and are the same by name."""
    bring(engine, SMALL)

    assert plan(engine, {"units": f"tag,model,key\nD1,VK 1,{KEY}\n"}).changes_nothing


def test_a_key_whose_row_was_undone_is_not_taken_over(engine: Engine) -> None:
    """Import, undo, import again: the rows come back under new keys, and the old folder is the same again."""
    folder = {**SMALL, "units": f"tag,model,key\nD1,VK 1,{KEY}\n"}
    bring(engine, folder)
    undo(engine, None, today=TODAY, now=NOW)

    bring(engine, folder)

    assert len(rows(engine, "SELECT key FROM unit WHERE void = 0 AND key <> :key", key=KEY)) == 1
    assert plan(engine, folder).changes_nothing


def test_a_name_that_stands_twice_is_refused_with_both_rows(engine: Engine) -> None:
    """Two rows of one record contradict each other or are useless."""
    made = plan(engine, {**SMALL, "units": "tag,model\nD1,VK 1\nD2,VK 1\nd1,VK 1\n"})

    assert refusals(made) == [("units.csv", 4, "tag", "stands twice: see row 2")]


def test_an_unknown_name_is_refused_with_the_nearest_three(engine: Engine) -> None:
    """A mistyped tag, model, measurement, supply, procedure or instrument names near ones and where to add it."""
    bring(engine, {**SMALL, "units": "tag,model\n" + "".join(f"D{n},VK 1\n" for n in range(1, 6))})

    made = plan(
        engine,
        {
            "hours": "tag,read_on,hours\nD7,2026-01-01,3\n",
            "units": "tag,model\nE1,VK 2\n",
            "readings": "tag,measurement,taken_on,instrument,value,stage\n"
            "D1,spindel speed,2026-01-01,countr,300,between\n",
            "amounts": "procedure,supply,quantity\nclean heads,foam swap,1\n",
        },
    )

    told = {(file, column): rule for file, _row, column, rule in refusals(made)}
    assert "no unit has this tag; nearest: D5, D4, D3" in str(told["hours.csv", "tag"])
    assert "add it to units.csv" in str(told["hours.csv", "tag"])
    assert "nearest: Velkari VK 1" in str(told["units.csv", "model"])
    assert "nearest: spindle speed" in str(told["readings.csv", "measurement"])
    assert "nearest: counter" in str(told["readings.csv", "instrument"])
    assert "nearest: clean head" in str(told["amounts.csv", "procedure"])
    assert "foam swab" in str(told["amounts.csv", "supply"])


def test_a_refused_row_does_not_make_the_rows_that_name_it_wrong(engine: Engine) -> None:
    """One mistake is told once, not again for every row that names the record."""
    made = plan(
        engine,
        {**SMALL, "units": "tag,model\nD1,VK 9\n", "hours": "tag,read_on,hours\nD1,2026-01-01,3\n"},
    )

    assert [(file, column) for file, _row, column, _rule in refusals(made)] == [("units.csv", "model")]


def test_a_model_without_its_maker_must_have_a_name_of_its_own(engine: Engine) -> None:
    """A name that two makers use is refused until the maker is named."""
    two = {"models": "model,maker\nVK 1,Velkari\nVK 1,Drossmere\n"}
    made = plan(engine, {**two, "units": "tag,model,maker\nD1,VK 1,\nD2,VK 1,drossmere\n"})

    assert refusals(made) == [("units.csv", 2, "model", "2 makers have a model of this name; name the maker")]


def test_a_person_nobody_listed_becomes_new_and_doubtful(engine: Engine) -> None:
    """Owners get the role of owner, others stand outside; whom a unit came from is simply new."""
    made = bring(
        engine,
        {
            **SMALL,
            "units": "tag,model,owner,acquired_from\nD1,VK 1,Ada Quill,Bo Reed\n",
            "services": "service,tag,opened_on,by\nS1,D1,2026-01-02,Cy Ash\n",
        },
    )

    assert [each.record for each in findings(made, "doubtful")] == ["person Ada Quill", "person Cy Ash"]
    assert "person Bo Reed" in [each.record for each in findings(made, "new")]
    assert rows(engine, "SELECT name, role FROM person WHERE void = 0 ORDER BY name") == [
        ("Ada Quill", "owner"),
        ("Bo Reed", "outside"),
        ("Cy Ash", "outside"),
    ]
    assert rows(engine, "SELECT count(*) FROM doubt WHERE value LIKE '%Quill%' OR rule LIKE '%Quill%'") == [(0,)]


def test_locations_may_come_in_any_order_but_not_in_a_circle(engine: Engine) -> None:
    """A place inside another one that comes later is found; one inside itself is refused."""
    bring(engine, {"locations": "location,inside\nbox,shelf\nshelf,room\nroom,\n"})
    sql = "SELECT l.name, i.name FROM location l LEFT JOIN location i ON i.id = l.inside_id ORDER BY l.name"

    assert rows(engine, sql) == [("box", "shelf"), ("room", None), ("shelf", "room")]
    circle = plan(engine, {"locations": "location,inside\na,b\nb,a\n"})
    assert [row for _file, row, _column, _rule in refusals(circle)] == [2, 3]


def test_a_circle_through_the_book_is_refused(engine: Engine) -> None:
    """Moving the room into its own shelf would lose both."""
    bring(engine, {"locations": "location,inside\nshelf,room\nroom,\n"})

    made = plan(engine, {"locations": "location,inside\nroom,shelf\n"})

    assert refusals(made) == [("locations.csv", 2, "inside", "lies inside itself, directly or through others")]


@pytest.mark.parametrize(
    ("serials", "rule"),
    [
        ("D1,VK 1,S-1\nD2,VK 1,s-1\n", "unit D2 of the same model has this serial too"),
        ("D1,VK 1,1.23E+05\n", "looks as if a spreadsheet had turned it into a number"),
    ],
)
def test_a_doubtful_serial_is_written_with_a_mark_and_told_once(engine: Engine, serials: str, rule: str) -> None:
    """Repeated or odd serials are warned of, never refused; the second time they are known."""
    folder = {**SMALL, "units": f"tag,model,serial\n{serials}"}
    made = bring(engine, folder)

    first = findings(made, "doubtful")[0]
    assert (first.record, first.column, first.rule) == ("unit D1", "serial", rule)
    assert (rule,) in rows(engine, "SELECT rule FROM doubt WHERE table_name = 'unit' AND field = 'serial'")
    assert plan(engine, folder).changes_nothing
    assert plan(engine, folder).totals["doubtful"] == 0


@pytest.mark.parametrize(
    ("file", "text", "column", "words"),
    [
        ("units", "tag,model,acquired_on\nD9,VK 1,2026-03-02\n", "acquired_on", "later than today"),
        ("units", "tag,model,acquired_on\nD9,VK 1,2025-02-30\n", "acquired_on", "does not exist"),
        ("units", "tag,model\nD9,\n", "model", "must be filled"),
        ("units", "tag,model,serial_state\nD9,VK 1,gone\n", "serial_state", "must be one of: known, lost, illegible"),
        ("units", f"tag,model\n{'D' * 201},VK 1\n", "tag", "at most 200"),
        ("units", 'tag,model,price\nD9,VK 1,"12,5"\n', "price", "add --decimal-comma"),
        ("units", "tag,model,price\nD9,VK 1,-1\n", "price", "must not be below zero"),
        ("units", "tag,model,price,currency\nD9,VK 1,1.555,EUR\n", "price", "too many digits"),
        ("units", "tag,model,key\nD9,VK 1,7\n", "key", "is not a UUID"),
        ("models", "model,speed_adjustable\nM,maybe\n", "speed_adjustable", "must be yes or no"),
        ("procedures", "procedure,every_months\nP,0\n", "every_months", "must be 1 or more"),
        ("procedures", "procedure,every_months\nP,1.5\n", "every_months", "must be a whole number"),
        ("procedures", "procedure,triggers\nP,after lunch\n", "triggers", 'trigger "after lunch" is not known'),
        ("procedures", "procedure,resets\nP,warp speed: level\n", "resets", "no such measurement"),
        ("amounts", 'procedure,supply,quantity,chance\ndust out,"tag, tie-on",1,1.01\n', "chance", "from 0 to 1"),
        ("supplies", "supply,kind,measured_in,wanted_chance\nS,x,g,1\n", "wanted_chance", "between 0 and 1"),
        ("supplies", "supply,kind,measured_in\nS,x,oz\n", "measured_in", "may be a mass"),
        ("limits", "tag,class,measurement\nD1,TTL,ripple\n", "class", "tag and class are filled"),
        ("limits", "measurement,lower\nripple,1\n", "tag", "none of tag, model and class"),
        ("limits", "class,measurement,lower,upper\nTTL,ripple,2,1\n", "upper", "is below lower 2"),
        ("pairings", "drive,supply_unit,from_date\nD1,D1,2025\n", "supply_unit", "is the drive itself"),
        ("policies", "policy,from_date,to_date\nP,2025-02,2025-01-31\n", "to_date", "is earlier than from_date"),
    ],
)
def test_a_cell_that_breaks_a_rule_is_refused_by_its_name(
    engine: Engine, file: str, text: str, column: str, words: str
) -> None:
    """Dates, enumerations, lengths, ranges and forms are refused before the database would."""
    bring(engine, SMALL)

    made = plan(engine, {file: text})

    ((where, row, wrong, rule),) = refusals(made)
    assert (where, row, wrong) == (f"{file}.csv", 2, column)
    assert words in str(rule)
    assert not made.writable


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("units", f"tag,model,acquired_on\n{'D' * 200},VK 1,2026-03-01\n"),
        ("amounts", 'procedure,supply,quantity,chance\ndust out,"tag, tie-on",1,1\n'),
        ("procedures", "procedure,every_months\nP,1\n"),
        ("limits", "class,measurement,lower,upper\nX,ripple,1,1\n"),
        ("policies", "policy,from_date,to_date\nP,2025-02,2025\n"),
        ("policies", "policy,from_date,to_date\nP,2025-02-01,2025-02-01\n"),
    ],
)
def test_a_cell_at_the_limit_is_taken(engine: Engine, file: str, text: str) -> None:
    """What lies exactly on a bound is within."""
    bring(engine, SMALL)

    assert plan(engine, {file: text}).writable


def test_an_instrument_says_one_thing_of_itself_and_may_have_several_notes(engine: Engine) -> None:
    """Rows of one instrument may leave cells to one another, add notes, but not contradict."""
    head = "instrument,measurement,kind,host,note\n"
    bring(engine, {"instruments": f"{head}meter,rail voltage,meter,,by hand\nmeter,ripple,,bench,20 MHz\n"})

    assert rows(engine, "SELECT kind, host, note FROM instrument WHERE name = 'meter'") == [
        ("meter", "bench", "by hand\n20 MHz")
    ]
    assert plan(engine, {"instruments": f"{head}meter,ripple,,,20 MHz\n"}).changes_nothing
    made = plan(engine, {"instruments": f"{head}scope,ripple,a,,\nscope,rail voltage,b,,\n"})
    assert refusals(made) == [("instruments.csv", 3, "kind", "row 2 says a of the same instrument")]


def test_a_unit_of_measure_stays_once_it_is_used(engine: Engine) -> None:
    """A measurement with readings and a supply with amounts keep their unit and step."""
    reading = "tag,measurement,taken_on,instrument,value,stage\nD1,spindle speed,2026-01-01,counter,300,between\n"
    bring(engine, {**SMALL, "readings": reading})

    measurement = plan(engine, {"measurements": "measurement,measured_in\nspindle speed,ms\nripple,mV\n"})
    supply = plan(engine, {"supplies": 'supply,kind,measured_in\n"tag, tie-on",tag,g\n'})

    assert [row[:3] for row in refusals(measurement)] == [("measurements.csv", 2, "measured_in")]
    assert [row[:3] for row in refusals(supply)] == [("supplies.csv", 2, "measured_in")]


def test_what_was_brought_in_keeps_every_rule_of_the_book_and_can_be_taken_back(engine: Engine) -> None:
    """An import is one act: verify finds nothing, undo leaves nothing that counts."""
    bring(engine, {**SMALL, "units": "tag,model,owner,location,standing\nD1,VK 1,Ada,Shelf,ready\n"})
    with engine.connect() as conn:
        assert verify(conn).broken == []

    undo(engine, None, today=TODAY, now=NOW)

    assert rows(engine, "SELECT count(*) FROM unit WHERE void = 0") == [(0,)]
    with engine.connect() as conn:
        assert verify(conn).broken == []
