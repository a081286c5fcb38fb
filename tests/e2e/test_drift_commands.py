"""Drift from the command line: the fleet, one unit, pictures, refusals; and the same as DataFrames."""

from __future__ import annotations

import csv
import io
import json
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from collection.analysis.drift import fit
from collection.exchange.frames import drift_frame, instrument_frame
from collection.store.engine import open_engine
from collection.views import drift_keep
from collection.views.drift_keys import KEYS
from tests.support.cli import rows_of, run_cli, run_well
from tests.support.shelf import shelf
from tests.support.times import TODAY

SPEED = ("--of", "spindle speed")
DRIFTS, SET_WRONG = "D3", "D9"


@pytest.fixture
def demo(built_demo: Path) -> Path:
    """Return the demo's book; nobody may write to it."""
    return built_demo


def test_the_drifting_unit_leads_the_fleet_and_the_sound_ones_are_left_alone(demo: Path) -> None:
    """What the demo's maker knows comes out: who drifts and how fast, who was set wrong, and nobody else."""
    rows = rows_of(demo, "drift", *SPEED)
    worst, speeds = rows[0], {row["tag"]: row for row in rows}

    assert [KEYS] == list({tuple(row) for row in rows})
    assert DRIFTS == worst["tag"]
    assert worst["slope_low"] < worst["slope_per_year"] < worst["slope_high"] < -1
    assert worst["sentence"].startswith("drifts down ")
    assert worst["chance_12_months"] > 0.5
    assert max(row["chance_12_months"] for row in rows[1:]) < 0.1
    assert "risk" == worst["recheck_rule"]
    assert worst["recheck_by"] < worst["by_date"] == "2027-03-01"
    assert speeds[SET_WRONG]["level"] == pytest.approx(303, abs=0.5)


def test_a_day_is_told_with_its_range_and_nothing_where_it_lies_before_the_last_reading(demo: Path) -> None:
    """Ahead the range widens and the chance grows; before the last reading there is a sentence in their place."""
    near, far = (rows_of(demo, "drift", *SPEED, "--by", day)[0] for day in ("2026-06-01", "2028-06-01"))
    (past,) = (row for row in rows_of(demo, "drift", *SPEED, "--by", "2020-01-01") if row["tag"] == DRIFTS)

    assert "2026-06-01" == near["by_date"]
    assert near["by_high"] - near["by_low"] < far["by_high"] - far["by_low"]
    assert near["chance_outside"] < far["chance_outside"]
    assert near["level"] == far["level"] == past["level"]
    assert [None] * 3 == [past[key] for key in ("by_low", "by_high", "chance_outside")]
    assert past["sentence"].endswith("the day asked for lies before its last reading, so nothing is foretold for it")


def test_the_list_fits_80_columns_with_its_sentence_below_each_series(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line of figures and what they say; below all of them what the columns mean."""
    monkeypatch.setattr("collection.cli.show._width_of", lambda _: 80)
    lines = run_well(demo, "drift").out.splitlines()

    assert "tag  measurement                       level now            outside  recheck by" == lines[0]
    assert lines[1].startswith(f"{DRIFTS}   spindle speed ")
    assert lines[2].startswith("     drifts down ")
    assert 80 >= max(map(len, lines))
    assert any(line.startswith("outside: chance of being outside its limits twelve months") for line in lines)


def test_a_kept_list_is_the_same_list_until_a_reading_is_added(demo: Path, tmp_path: Path) -> None:
    """The second run prints the same bytes, and the first reading after it counts."""
    book = Path(shutil.copy(demo, tmp_path / "book"))
    first = run_well(book, "drift", *SPEED, "--json").out
    assert first == run_well(book, "drift", *SPEED, "--json").out

    run_well(book, "reading", "add", DRIFTS, "spindle speed", "297.5", "--instrument", "bench counter")
    before, after = json.loads(first)[0], rows_of(book, "drift", *SPEED)[0]
    assert before["readings"] + 1 == after["readings"]
    assert "2026-03-01" == after["last_read"]


def test_a_large_list_is_renewed_to_the_bytes_of_a_new_one(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Kept, renewed by one reading after another, and made with nothing kept: the same bytes each time."""
    monkeypatch.setattr(fit, "_TOGETHER", 3)
    told: list[bool] = []
    renew = drift_keep.renewed

    def watched(*args: Any) -> Any:
        rows = renew(*args)
        told.append(rows is not None)
        return rows

    monkeypatch.setattr(drift_keep, "renewed", watched)
    book, kept, none = Path(shutil.copy(demo, tmp_path / "book")), str(tmp_path / "kept"), str(tmp_path / "none")
    monkeypatch.setenv("XDG_CACHE_HOME", kept)
    before = run_well(book, "drift", "--json").out
    for number, (tag, value) in enumerate((("D3", "297.5"), ("D2", "300.4"))):
        run_well(book, "reading", "add", tag, "spindle speed", value, "--instrument", "bench counter")
        renewed = run_well(book, "drift", "--json").out
        assert before != renewed == run_well(book, "drift", "--json").out
        monkeypatch.setenv("XDG_CACHE_HOME", f"{none}{number}")
        assert renewed == run_well(book, "drift", "--json").out
        monkeypatch.setenv("XDG_CACHE_HOME", kept)
        before = renewed
    assert [True, True] == told


def test_csv_and_table_come_from_the_rows_of_json(demo: Path) -> None:
    """The same values, in the same order."""
    rows = rows_of(demo, "drift", *SPEED)
    told = list(csv.DictReader(io.StringIO(run_well(demo, "drift", *SPEED, "--csv").out)))

    assert list(KEYS) == list(told[0])
    assert [(row["tag"], str(row["level"])) for row in rows] == [(row["tag"], row["level"]) for row in told]


def test_a_unit_shows_each_reading_and_what_set_it_anew(demo: Path) -> None:
    """Corrected beside raw where the instrument reads off, a line for each reset, and when a limit is reached."""
    out = run_well(demo, "drift", DRIFTS, *SPEED).out
    (one,) = rows_of(demo, "drift", DRIFTS, *SPEED)

    assert out.startswith(f"{DRIFTS}: spindle speed, r/min\ndrift ")
    assert "reaches 295.5 r/min about" in out
    assert "-- " in out
    assert "replace belt: new level, new slope" in out
    strobe = [each for each in one["readings_taken"] if each["instrument"] == "hand strobe"]
    assert all(each["corrected"] - each["value"] > 2 for each in strobe)
    assert one["readings"] == sum(segment["readings"] for segment in one["segments_cut"])
    assert one["crossing"] in out


@pytest.fixture
def jumped(sqlite_book: Path) -> Path:
    """Return a book of six steady drives, of which D1 jumped up 3 r/min in early 2025 with no service, and D2 once
    read 12 r/min too low.
    """  # noqa: D205  what is in it takes two lines
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        counter = made.named("instrument", "counter")
        for number in range(1, 7):
            series = made.series(made.unit(f"D{number}"))
            for month in range(0, 60, 4):
                day = f"{2021 + month // 12}-{month % 12 + 1:02d}-15"
                value = 300 + 0.1 * ((number * 7 + month) % 5 - 2)
                value += 3 if number == 1 and month >= 48 else 0
                value -= 12 if number == 2 and month == 32 else 0
                told = {"taken_on": day, "value": value, "instrument_id": counter, "stage": "between"}
                made.work.append("reading", series_id=series, entered=str(value), **told)
    engine.dispose()
    return sqlite_book


def test_a_jump_without_a_service_is_asked_about_and_a_stray_reading_is_marked(jumped: Path) -> None:
    """The jump with its month as a question; the stray reading with its chance, and how to set it aside."""
    up = run_well(jumped, "drift", "D1").out
    stray = run_well(jumped, "drift", "D2").out

    assert "looks like a jump up of 3" in up
    assert "by Jan 2025 with no service recorded: was it adjusted?" in up
    assert "stray?" not in up
    (line,) = [line for line in stray.splitlines() if "stray?" in line]
    assert line.startswith("2023-09-15")
    assert 'spindlebook reading set-aside D2 "spindle speed" --on 20' in stray


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--of", "spindel speed"], 'There is no measurement "spindel speed".\nNearest: spindle speed.'),
        (["--of", "head condition"], "is graded: judged by its own rule, two marginal in a row are a fail."),
        (["--by", "soon"], '"soon" is not a day.'),
        (["--by", "2027"], "--by 2027 names no single day."),
        (["--plot", "x.png"], "no TAG is given."),
        ([DRIFTS, "--of", "head condition"], "is graded: judged by its own rule"),
        ([DRIFTS, "--of", "ripple"], f'{DRIFTS} has no reading of "ripple".'),
        (["P5", "--of", "ripple", "--point", "+3 V"], "It has: +5 V, +12 V."),
        ([DRIFTS, "--plot", "x.jpg"], "x.jpg is no .png and no .svg file."),
        ([DRIFTS, *SPEED, "--plot", "/nowhere/x.png"], "There is no folder /nowhere."),
        (["P5", "--plot", "x.png"], "a picture shows one: rail voltage +5 V, rail voltage +12 V, ripple +5 V"),
    ],
)
def test_what_cannot_be_told_is_refused_in_two_lines(demo: Path, args: list[str], said: str) -> None:
    """Naming the thing, what is wrong with it and what to type."""
    ran = run_cli(["drift", *args], db=demo)

    assert ran.code in (1, 2)
    assert "" == ran.out
    assert said in ran.err
    assert 2 == len(ran.err.splitlines())


def test_a_series_is_drawn_into_the_file_that_was_named(demo: Path, tmp_path: Path) -> None:
    """A point narrows several series down, however its blanks are typed."""
    file = tmp_path / "rail.svg"
    run_well(demo, "drift", "P5", "--of", "rail voltage", "--point", "+5V", "--plot", str(file))

    assert file.read_bytes().startswith(b"<?xml")


def test_a_book_without_readings_says_how_to_get_one(sqlite_book: Path) -> None:
    """A sentence for a person, an empty list for a program, frames without rows."""
    assert "No reading in a unit of measure yet." in run_well(sqlite_book, "drift").out
    assert [] == rows_of(sqlite_book, "drift")
    assert (0, len(KEYS)) == drift_frame(str(sqlite_book), today=TODAY).shape
    assert 0 == len(instrument_frame(str(sqlite_book), today=TODAY))


def test_the_frame_of_drift_holds_what_json_prints(demo: Path) -> None:
    """One call; days are days, numbers are numbers, and the worst stands first."""
    by = date(2027, 9, 1)
    frame = drift_frame(str(demo), today=TODAY, of="spindle speed", by=by)
    rows = rows_of(demo, "drift", *SPEED, "--by", by.isoformat())

    assert list(KEYS) == list(frame.columns)
    assert [row["tag"] for row in rows] == frame["tag"].tolist()
    assert [row["by_low"] for row in rows] == frame["by_low"].tolist()
    assert {by} == {day.date() for day in frame["by_date"]}
    assert "float64" == str(frame["slope_per_year"].dtype)


def test_the_frame_of_instruments_names_the_one_that_reads_low(demo: Path) -> None:
    """Its offset in per cent with its interval, tied to the reference."""
    frame = instrument_frame(str(demo), today=TODAY)
    (strobe,) = frame[frame["instrument"] == "hand strobe"].to_dict("records")

    assert "spindle speed" == strobe["measurement"]
    assert strobe["offset"] == pytest.approx(-0.9, abs=0.1)
    assert strobe["offset_low"] < strobe["offset"] < strobe["offset_high"] < 0
    assert strobe["linked"]
