"""The generator of the invented club: it repeats itself, and its data say what its truth says."""

import copy
import math
from datetime import date
from statistics import mean, stdev

import pytest

from collection.analysis.fleet import Tables, Truth, history
from collection.analysis.fleet_bench import COUNTER, PROGRAM, STROBE, Segment
from collection.analysis.fleet_dice import Dice, day_text, days_from_today
from collection.analysis.measures import to_measured
from collection.errors import Refused
from collection.exchange.demo_folder import generator_tables
from collection.quantity import parse_number
from tests.support.demo import DEMO_DAY, Row, demo, one_in_role

SPEED = "spindle speed"


@pytest.fixture(scope="module")
def tables() -> Tables:
    """The demo's rows on a fixed day."""
    return demo()[0]


@pytest.fixture(scope="module")
def truth() -> Truth:
    """What the demo's rows are made from."""
    return demo()[1]


def _nominals(tables: Tables) -> dict[str, float]:
    speeds = {row["model"]: row["nominal_speed"] for row in tables["models.csv"]}
    return {row["tag"]: float(speeds[row["model"]] or 0) for row in tables["units.csv"]}


def _percent(row: Row, nominal: float) -> float:
    """Return how far a speed reading lies from nominal, in per cent on the scale 100 ln."""
    speed = to_measured(parse_number(row["value"]), row["measured_in"], "r/min", nominal, 50)
    return 100 * math.log(speed / nominal)


def _day(text: str) -> int:
    return (date.fromisoformat(text) - DEMO_DAY).days


def _speeds(tables: Tables) -> list[Row]:
    return [row for row in tables["readings.csv"] if row["measurement"] == SPEED]


def _speed_error(truth: Truth, tag: str, day: int) -> float:
    """Return the true speed error of a drive in per cent of nominal on a day counted from today."""
    begun = [Segment(*segment) for segment in truth["segments"][tag] if segment[0] <= day]
    return begun[-1].error(day)


def _sound(tables: Tables, truth: Truth) -> list[tuple[Row, float, float]]:
    """Return every speed reading that no slipping disk spoilt, with its error as read and as it truly was.

    A reading as found on the day of an adjustment is held against the state before it.
    """
    nominals, stray, sound = _nominals(tables), set(truth["stray"]), []
    for row in _speeds(tables):
        tag, day = row["tag"], _day(row["taken_on"])
        read = _percent(row, nominals[tag])
        if (tag, day) in stray and read < -2.5:
            continue
        before = any(day == start for start, _, _ in truth["segments"][tag]) and row["stage"] == "as found"
        sound.append((row, read, _speed_error(truth, tag, day - 1 if before else day)))
    return sound


def _readings_by_unit(tables: Tables, tag: str, *instruments: str) -> list[tuple[int, float]]:
    nominal = _nominals(tables)[tag]
    return [
        (_day(row["taken_on"]), _percent(row, nominal))
        for row in _speeds(tables)
        if row["tag"] == tag and row["instrument"] in instruments and not row["set_aside"]
    ]


def _slope(points: list[tuple[int, float]]) -> tuple[float, float]:
    """Return the least-squares slope a year and its standard error (textbook formulas)."""
    t, y = [day / 365.25 for day, _ in points], [error for _, error in points]
    t_mean, y_mean = mean(t), mean(y)
    s_tt = sum((each - t_mean) ** 2 for each in t)
    slope = sum((a - t_mean) * (b - y_mean) for a, b in zip(t, y, strict=True)) / s_tt
    rest = [b - y_mean - slope * (a - t_mean) for a, b in zip(t, y, strict=True)]
    return slope, math.sqrt(sum(each**2 for each in rest) / (len(points) - 2) / s_tt)


def test_the_same_seed_makes_the_same_club_and_another_seed_another() -> None:
    """Rows and truth repeat exactly under one seed; a second seed changes both."""
    given = generator_tables()

    assert history(given, "one") == history(given, "one")
    assert history(given, "one") != history(given, "two")


def test_the_generator_leaves_what_it_is_given_as_it_was() -> None:
    """A pure function: the tables handed in are not written to."""
    given = generator_tables()
    before = copy.deepcopy(given)

    history(given)

    assert given == before


def test_one_instrument_reads_low_by_the_constant_of_the_truth(tables: Tables, truth: Truth) -> None:
    """Mean (reading - truth) per instrument is its offset within four standard errors; only one is not zero."""
    off: dict[str, list[float]] = {COUNTER: [], PROGRAM: [], STROBE: []}
    for row, read, true in _sound(tables, truth):
        off[row["instrument"]].append(read - true)

    for name, found in off.items():
        assert len(found) >= 20
        assert mean(found) == pytest.approx(truth["offsets"][name], abs=4 * stdev(found) / math.sqrt(len(found)))
    assert [name for name, offset in truth["offsets"].items() if offset] == [STROBE]


def test_two_instruments_read_the_same_unit_often_enough_to_be_compared(tables: Tables, truth: Truth) -> None:
    """Pairs as found in one service differ by the strobe's offset, which is how a reader can find it."""
    nominals = _nominals(tables)
    pairs: dict[str, dict[str, float]] = {}
    for row in _speeds(tables):
        if row["stage"] == "as found" and not row["set_aside"]:
            pairs.setdefault(row["service"], {})[row["instrument"]] = _percent(row, nominals[row["tag"]])
    apart = [pair[STROBE] - pair[COUNTER] for pair in pairs.values() if STROBE in pair and COUNTER in pair]

    assert len(apart) >= 10
    assert mean(apart) == pytest.approx(truth["offsets"][STROBE], abs=4 * stdev(apart) / math.sqrt(len(apart)))


def test_every_sound_reading_lies_near_the_truth(tables: Tables, truth: Truth) -> None:
    """Reading = truth + offset + noise + rounding; five standard deviations leave no other mistake hidden."""
    rounding = {COUNTER: 0.02, PROGRAM: 0.01, STROBE: 0.09}
    for row, read, true in _sound(tables, truth):
        name = row["instrument"]
        wide = 5 * truth["noise"][name] + rounding[name]

        assert abs(read - true - truth["offsets"][name]) < wide, row


def test_stray_readings_are_those_of_the_truth_and_most_are_set_aside(tables: Tables, truth: Truth) -> None:
    """A slipping disk reads at least 2.5 % slow; nothing else does, and nothing sound is set aside."""
    nominals = _nominals(tables)
    far = [(row["tag"], _day(row["taken_on"])) for row in _speeds(tables) if _percent(row, nominals[row["tag"]]) < -2.5]
    aside = [(row["tag"], _day(row["taken_on"])) for row in _speeds(tables) if row["set_aside"]]

    assert sorted(far) == sorted(truth["stray"])
    assert aside
    assert set(aside) <= set(far)


def test_one_unit_drifts_by_the_slope_of_the_truth(tables: Tables, truth: Truth) -> None:
    """Least squares on its counter and program readings finds the slope; no other drive falls as fast."""
    tag = one_in_role("drifting")

    slope, error = _slope(_readings_by_unit(tables, tag, COUNTER, PROGRAM))

    assert slope == pytest.approx(truth["slopes"][tag], abs=4 * error)
    assert slope + 2 * error < -0.4
    assert all(other > truth["slopes"][tag] + 0.1 for name, other in truth["slopes"].items() if name != tag)


def test_the_drifting_unit_is_still_inside_its_limits(tables: Tables, truth: Truth) -> None:
    """It is there to be caught in time: past two thirds of the way to the limit of -1.5 %, not beyond."""
    last = _readings_by_unit(tables, one_in_role("drifting"), COUNTER)[-1]

    assert -1.5 < last[1] < -1.0


def test_one_unit_was_set_to_nominal_on_the_low_instrument(tables: Tables, truth: Truth) -> None:
    """As left on the strobe it reads nominal, and afterwards the counter reads it high by the offset."""
    tag = one_in_role("set wrongly")
    service = next(row for row in tables["services.csv"] if row["tag"] == tag and "set" in row["procedures"])
    nominal = _nominals(tables)[tag]
    left = [row for row in _speeds(tables) if row["service"] == service["service"] and row["stage"] == "as left"]
    after = [e for day, e in _readings_by_unit(tables, tag, COUNTER) if day > _day(service["opened_on"])]

    assert [row["instrument"] for row in left] == [STROBE]
    assert _percent(left[0], nominal) == pytest.approx(0, abs=0.4)
    assert mean(after) == pytest.approx(-truth["offsets"][STROBE], abs=0.3)


def test_levels_begin_anew_only_where_a_service_adjusted_or_the_truth_says_so(tables: Tables, truth: Truth) -> None:
    """Each segment after the first begins on the day of a belt or a setting, or is the one jump told of."""
    adjusted = {
        (row["tag"], _day(row["opened_on"]))
        for row in tables["services.csv"]
        if "replace belt" in row["procedures"] or "set spindle speed" in row["procedures"]
    }
    begun = {(tag, each[0]) for tag, segments in truth["segments"].items() for each in segments[1:]}

    assert {tag for tag, _ in begun - adjusted} == {one_in_role("out of limits")}
    assert adjusted <= begun


def test_speed_error_follows_the_segment_that_holds_on_the_day() -> None:
    """On the first day of a segment its level counts, the day before the old one does (by hand)."""
    made = Truth(
        offsets={},
        noise={},
        segments={"D1": [(-1000, 1.0, -0.3653), (-100, 0.25, 0.0)]},
        slopes={},
        roles={},
        stray=[],
    )

    # 1.0 - 0.3653 * 899 / 365.25 = 0.1009 (four digits)
    assert _speed_error(made, "D1", -101) == pytest.approx(0.1009, abs=5e-5)
    assert _speed_error(made, "D1", -100) == 0.25
    assert _speed_error(made, "D1", 0) == 0.25


def test_crystal_drives_do_not_drift(tables: Tables, truth: Truth) -> None:
    """A crystal holds the speed, so whatever their readings do is noise."""
    models = {row["model"]: row["drive_type"] for row in tables["models.csv"]}
    crystal = [row["tag"] for row in tables["units.csv"] if models[row["model"]] == "direct crystal"]

    assert len(crystal) >= 3
    assert all(truth["slopes"][tag] == 0 for tag in crystal)


def test_whole_numbers_reach_both_ends_and_no_further() -> None:
    """A die of 1 to 6 shows every face in a thousand throws, and nothing else."""
    dice = Dice("faces")

    assert {dice.whole(1, 6) for _ in range(1000)} == {1, 2, 3, 4, 5, 6}


def test_normal_numbers_have_their_mean_and_spread() -> None:
    """Of 10,000 draws the mean lies within four standard errors, the spread within 5 %."""
    dice = Dice("bell")
    drawn = [dice.normal(3, 2) for _ in range(10_000)]

    assert mean(drawn) == pytest.approx(3, abs=4 * 2 / 100)
    assert stdev(drawn) == pytest.approx(2, rel=0.05)


def test_chance_is_as_often_as_asked() -> None:
    """One in four: between 2,300 and 2,700 of 10,000; never at 0, always at 1."""
    dice = Dice("coin")

    assert 2300 < sum(dice.chance(0.25) for _ in range(10_000)) < 2700
    assert not any(dice.chance(0) for _ in range(100))
    assert all(dice.chance(1) for _ in range(100))


@pytest.mark.parametrize(
    ("text", "days"), [("today", 0), ("today-420", -420), ("today+65", 65), ("today-900/quarter", -900)]
)
def test_days_are_counted_from_today(text: str, days: int) -> None:
    """The demo's files know no calendar: a day is so many days before or after today."""
    assert days_from_today(text) == days


def test_a_day_of_another_form_is_refused_with_the_form_to_write() -> None:
    """A slip in the demo's own files is named, with what to write instead."""
    with pytest.raises(Refused) as caught:
        days_from_today("2024-05-01")

    assert str(caught.value) == '"2024-05-01" is not a day of the demo. Write it as today-420.'


@pytest.mark.parametrize("days", [-1095, -1, 0, 30])
def test_a_day_written_is_the_day_read(days: int) -> None:
    """Writing and reading a day are opposites."""
    assert days_from_today(day_text(days)) == days
