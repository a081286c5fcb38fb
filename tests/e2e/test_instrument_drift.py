"""What the command line tells of instruments: how far they read off, how two agree; and the chart of a unit."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from collection.store.engine import open_engine
from tests.support.cli import rows_of, run_cli, run_well
from tests.support.shelf import shelf

STROBE, COUNTER, PROGRAM = "hand strobe", "bench counter", "drive test program"


@pytest.fixture
def demo(built_demo: Path) -> Path:
    """Return the demo's book; nobody may write to it."""
    return built_demo


@pytest.fixture
def steady(sqlite_book: Path) -> Path:
    """Return a book of one drive read every month on a counter that is no reference, and once on a meter."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        counter, meter = made.named("instrument", "counter"), made.named("instrument", "meter")
        series = made.series(made.unit("D1"))
        more = {"stage": "between", "entered": ""}
        for month in range(1, 13):
            value = 300 + 0.1 * ((month * 7) % 5 - 2)
            day = f"2025-{month:02d}-01"
            made.work.append("reading", series_id=series, taken_on=day, value=value, instrument_id=counter, **more)
        other = made.series(made.unit("D2"))
        made.work.append("reading", series_id=other, taken_on=day, value=301.0, instrument_id=meter, **more)
    engine.dispose()
    return sqlite_book


def test_the_low_reading_instrument_is_found_with_the_units_it_spoilt(demo: Path) -> None:
    """One row an instrument and measurement, its offset against the reference; the sound one shows none."""
    rows = rows_of(demo, "instrument", "list")
    speeds = {row["instrument"]: row for row in rows if row["measurement"] == "spindle speed"}
    strobe, counter, program = speeds[STROBE], speeds[COUNTER], speeds[PROGRAM]

    assert len(rows) == len({(row["instrument"], row["measurement"]) for row in rows})
    assert ["instrument", "measurement", "offset", "offset_low", "offset_high", "repeatability", "linked"] == list(
        strobe
    )[:7]
    assert -1.0 < strobe["offset_low"] < strobe["offset"] < strobe["offset_high"] < -0.8
    assert (True, "%", COUNTER) == (strobe["linked"], strobe["offset_in"], strobe["against"])
    assert "D9" in [each["tag"] for each in strobe["set_off"]]
    assert (0.0, True, []) == (counter["offset"], counter["reference"], counter["set_off"])
    assert program["offset_low"] < 0 < program["offset_high"]


def test_the_list_says_it_in_words_and_names_each_instrument_once(demo: Path) -> None:
    """The sentence stands below the row, and the units that were set wrong at the end."""
    out = run_well(demo, "instrument", "list").out

    assert "reads 0.89 % low (0.86 to 0.93); readings are corrected; 16 pairs with bench counter" in out
    assert "D9 was set by hand strobe on 15 May 2025, and so left 2.7 r/min (2.6 to 2.8) too high" in out
    assert [1] == list({sum(line.startswith(name) for line in out.splitlines()) for name in (STROBE, COUNTER, PROGRAM)})


def test_without_a_tie_nothing_is_said_of_an_offset_and_what_would_settle_it_is_named(steady: Path) -> None:
    """Numbers are null, linked is false, and the sentence says what to do."""
    rows = {row["instrument"]: row for row in rows_of(steady, "instrument", "list")}
    counter, meter = rows["counter"], rows["meter"]

    assert [(None, False)] * 2 == [(row["offset"], row["linked"]) for row in (counter, meter)]
    assert "no instrument is a reference for this measurement" in meter["sentence"]


def test_after_its_repair_an_instrument_begins_anew_and_all_shows_what_was_before(demo: Path, tmp_path: Path) -> None:
    """The present period has no reading yet; its readings before keep their offset."""
    book = tmp_path / "book"
    book.write_bytes(demo.read_bytes())
    run_well(book, "instrument", "repaired", STROBE, "--on", "2026-02-28", "--reason", "new lamp")
    (row,) = (each for each in rows_of(book, "instrument", "list") if each["instrument"] == STROBE)
    both = [each for each in rows_of(book, "instrument", "list", "--all") if each["instrument"] == STROBE]

    assert ("2026-02-28", None, "not read since its repair") == (row["since"], row["offset"], row["sentence"])
    assert [True, False] == [each["offset"] is None for each in both]


def test_two_instruments_are_compared_by_what_both_read(demo: Path) -> None:
    """Pairs, bias and limits of agreement hold together; where both read nothing, it says how to."""
    rows = rows_of(demo, "instrument", "compare", STROBE, COUNTER)
    first, mean = rows[0], sum(row["difference"] for row in rows) / len(rows)

    assert first["pairs"] == len(rows) > 6
    assert first["bias"] == pytest.approx(mean, abs=0.001)
    assert first["agree_low"] < first["bias_low"] < first["bias"] < first["bias_high"] < first["agree_high"] < 0
    assert "hand strobe reads 0.8" in run_well(demo, "instrument", "compare", STROBE, COUNTER).out
    turned = rows_of(demo, "instrument", "compare", COUNTER, STROBE)[0]
    assert turned["bias"] == pytest.approx(-first["bias"], rel=0.02)
    assert "before it is adjusted" in run_well(demo, "instrument", "compare", PROGRAM, COUNTER).out


def test_instruments_are_compared_without_a_reference_too(steady: Path) -> None:
    """Nothing is corrected then; what both read on one day stays apart by as much as it was read."""
    run_well(steady, "reading", "add", "D1", "spindle speed", "303.3", "--instrument", "meter", "--on", "2025-12-01")
    (row,) = rows_of(steady, "instrument", "compare", "meter", "counter")

    assert row["difference"] == pytest.approx(100 * (row["a_value"] / row["b_value"] - 1))
    assert 303.3 == row["a_value"] != row["b_value"]
    assert (None, None, 1) == (row["bias_low"], row["agree_low"], row["pairs"])


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((STROBE, "bench conter"), "Nearest: bench counter"),
        ((STROBE, STROBE), "compared with itself"),
        ((STROBE, "by eye"), "did not both read"),
        ((STROBE, COUNTER, "--of", "azimuth"), "graded"),
        ((STROBE, COUNTER, "--of", "ripple"), "did not both read"),
        ((STROBE, COUNTER, "--plot", "a.gif"), ".png"),
        ((STROBE, COUNTER, "--plot", "/nowhere/a.png"), "no folder"),
    ],
)
def test_what_cannot_be_compared_is_refused_in_two_lines(demo: Path, args: tuple[str, ...], said: str) -> None:
    """The thing, the value, and what to type next."""
    ran = run_cli(["instrument", "compare", *args], db=demo)

    assert 0 != ran.code
    assert said in ran.err
    assert len(ran.err.splitlines()) <= 2


def test_a_chart_signals_the_stray_reading_of_the_drifting_unit_and_nothing_of_a_sound_one(demo: Path) -> None:
    """Known drift and offsets are foretold, so a unit that drifts steadily does not signal."""
    rows = rows_of(demo, "chart", "D3", "--of", "spindle speed")
    sound = rows_of(demo, "chart", "D9", "--of", "spindle speed")
    out = run_well(demo, "chart", "D3", "--of", "spindle speed").out

    assert [("2025-08-05", "beyond")] == [(row["taken_on"], row["signal"]) for row in rows if row["signal"]]
    assert all(row["signal"] is None for row in sound)
    assert "8 or more noise-widths below what this unit's own drift predicts" in out
    assert "false alarms a year" in out
    assert "No classic chart: it cannot tell 3 instruments" in out
    assert "no limits of the measurement" in out


def test_the_classic_chart_stands_where_its_conditions_hold(steady: Path) -> None:
    """One instrument, one level, ten readings and more at even times: its lines are printed."""
    rows = rows_of(steady, "chart", "D1")
    values = [row["value"] for row in rows]
    moving = sum(abs(after - before) for before, after in pairwise(values)) / (len(values) - 1)

    assert 12 == len(rows)
    assert rows[0]["single_centre"] == pytest.approx(sum(values) / 12)
    assert rows[0]["single_upper"] - rows[0]["single_centre"] == pytest.approx(3 / 1.128 * moving)
    assert rows[0]["why_no_single"] is None
    assert "Classic chart of single readings: mean 300" in run_well(steady, "chart", "D1").out
    assert "it takes two readings" in run_well(steady, "chart", "D2").out
