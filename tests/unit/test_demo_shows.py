"""What the demo is there to show: each state a club meets stands on the unit that its truth names."""

from collections import Counter
from collections.abc import Iterator
from datetime import date

import pytest

from collection.analysis.fleet import Tables
from collection.analysis.limits import OUT, Limit, Scope, classes_of, nearest_limit, verdict
from collection.analysis.measures import parse_speeds, to_measured
from collection.analysis.months import add_months
from collection.errors import fold
from collection.quantity import parse_number
from collection.store.seed import reference_rows
from tests.support.demo import DEMO_DAY, Row, demo, listed, one_in_role, texts_in, units_in_role


@pytest.fixture(scope="module")
def tables() -> Tables:
    """The demo's rows on a fixed day."""
    return demo()[0]


def test_the_fleet_has_fourteen_drives_of_each_sort_and_six_supply_units(tables: Tables) -> None:
    """Belt, direct adjustable and direct crystal, and 300 and 360 r/min in each of the three."""
    models = {row["model"]: row for row in tables["models.csv"]}
    fleet = [models[row["model"]] for row in tables["units.csv"]]
    sorts = {(row["drive_type"], row["nominal_speed"]) for row in fleet if row["kind"] == "drive"}

    assert Counter(row["kind"] for row in fleet) == {"drive": 14, "supply unit": 6}
    assert sorts == {
        (drive_type, speed)
        for drive_type in ("belt", "direct adjustable", "direct crystal")
        for speed in ("300", "360")
    }


def test_history_spans_three_years_and_reaches_up_to_today(tables: Tables) -> None:
    """The first service lies about three years back, the last within the last two months."""
    opened = sorted(date.fromisoformat(row["opened_on"]) for row in tables["services.csv"])

    assert 1060 <= (DEMO_DAY - opened[0]).days <= 1096
    assert (DEMO_DAY - opened[-1]).days <= 60
    assert len(opened) > 80


def test_no_unit_is_serviced_while_it_is_lent_out(tables: Tables) -> None:
    """Between the day out and the day back nobody here can open it or read it."""
    for loan in tables["loans.csv"]:
        if loan["direction"] == "in":
            continue
        back = loan["back_on"] or DEMO_DAY.isoformat()
        for file, column in (("services.csv", "opened_on"), ("readings.csv", "taken_on")):
            days = [row[column] for row in tables[file] if row["tag"] == loan["tag"]]
            assert [day for day in days if loan["out_on"] <= day < back] == []


def test_one_loan_is_out_one_overdue_and_one_back(tables: Tables) -> None:
    """Open loans stand on two units that say so; no unit stands on two open loans."""
    today = DEMO_DAY.isoformat()
    out = [row for row in tables["loans.csv"] if row["direction"] == "out"]
    still = [row for row in out if not row["back_on"]]
    standings = {row["tag"]: row["standing"] for row in tables["units.csv"]}

    assert [row["due_on"] < today for row in still].count(True) == 1
    assert [row["due_on"] < today for row in still].count(False) == 1
    assert any(row["back_on"] for row in out)
    assert {row["tag"] for row in still} == {tag for tag, standing in standings.items() if standing == "on loan"}


def test_every_role_is_played(tables: Tables) -> None:
    """One drifts, one was set wrongly, one is out of limits, and so on; a supply unit is overdue too."""
    assert Counter(demo()[1]["roles"].values()) == {
        "ready to lend": 2,
        "drifting": 1,
        "on loan": 1,
        "overdue work": 2,
        "donor": 1,
        "out of limits": 1,
        "set wrongly": 1,
        "overdue loan": 1,
        "no history": 1,
        "open fault": 1,
        "arrived": 1,
    }
    units = {row["tag"]: row for row in tables["units.csv"]}
    assert [units[tag]["standing"] for tag in units_in_role("donor")] == ["donor"]


def test_the_unit_without_history_has_none(tables: Tables) -> None:
    """No service, reading, fault, loan or part: only where it stands and whose it is."""
    tag = one_in_role("no history")
    files = ("services.csv", "readings.csv", "faults.csv", "loans.csv", "parts.csv", "uses.csv", "hours.csv")

    assert [file for file in files if tag in texts_in(tables, file, "tag")] == []


def test_one_fault_is_open_and_the_others_were_cured_by_a_service(tables: Tables) -> None:
    """The open one is on the unit that awaits its part and has an open service."""
    still = [row["tag"] for row in tables["faults.csv"] if not row["closed_on"]]
    cured = [row for row in tables["faults.csv"] if row["closed_on"]]
    open_services = [row["tag"] for row in tables["services.csv"] if not row["closed_on"]]

    assert still == units_in_role("open fault") == open_services
    assert len(cured) >= 3
    assert all(row["cause"] and row["cure"] and row["service"] for row in cured)


def _last_done(tables: Tables, tag: str, procedure: str) -> date:
    days = [
        row["closed_on"] or row["opened_on"]
        for row in tables["services.csv"]
        if row["tag"] == tag and procedure in listed(row["procedures"])
    ]
    return date.fromisoformat(max(days))


def _overdue(tables: Tables) -> set[str]:
    """Return the tags with a service whose yearly work was last done more than its months ago."""
    rows = [row for row in reference_rows("procedures") if row["every_months"]]
    tags = texts_in(tables, "services.csv", "tag")
    late = set()
    for tag in tags:
        done = {name for r in tables["services.csv"] if r["tag"] == tag for name in listed(r["procedures"])}
        for row in rows:
            if row["procedure"] in done:
                last = _last_done(tables, tag, row["procedure"])
                if add_months(last, int(row["every_months"])) < DEMO_DAY:
                    late.add(tag)
    return late


def test_overdue_work_stands_on_the_units_that_show_it_and_nowhere_else(tables: Tables) -> None:
    """A drive and a supply unit are past their months; nothing else is, so the list stays readable."""
    assert _overdue(tables) == set(units_in_role("overdue work"))


def test_the_units_ready_to_lend_are_ready_and_free(tables: Tables) -> None:
    """Standing ready, not lent, no open fault, nothing overdue, last speed within limits."""
    standings = {row["tag"]: row["standing"] for row in tables["units.csv"]}
    lent = {row["tag"] for row in tables["loans.csv"] if not row["back_on"]}
    faulty = {row["tag"] for row in tables["faults.csv"] if not row["closed_on"]}
    out = {tag for tag, *_ in _out_of_limits(tables)}

    assert len(units_in_role("ready to lend")) >= 1
    for tag in units_in_role("ready to lend"):
        assert standings[tag] == "ready"
        assert tag not in lent | faulty | _overdue(tables) | out


def _limits(tables: Tables, unit: Row, model: Row, measurement: str, point: str) -> Iterator[Limit]:
    """Yield every limit that can count for a point of a unit, of the demo and of the reference data."""
    speeds = parse_speeds(model["nominal_speed"])
    classes = [fold(name) for name in classes_of(model["kind"], model["drive_type"], speeds, point)]
    for row in [*tables["limits.csv"], *reference_rows("limits")]:
        about = row["measurement"] == measurement and row["point"] in ("", point)
        if about and row.get("tag") == unit["tag"]:
            yield _limit(row, "unit", 0)
        elif about and row.get("model") == unit["model"]:
            yield _limit(row, "model", 0)
        elif about and fold(row["class"]) in classes:
            yield _limit(row, "class", classes.index(fold(row["class"])))


def _limit(row: Row, scope: Scope, rank: int) -> Limit:
    nominal, lower, upper = (float(row[name]) if row[name] else None for name in ("nominal", "lower", "upper"))
    return Limit(nominal, lower, upper, scope=scope, class_rank=rank, point=row["point"])


def _out_of_limits(tables: Tables) -> list[tuple[str, str, str]]:
    """Return tag, measurement and verdict of every series whose last reading is out of its limit."""
    models = {row["model"]: row for row in tables["models.csv"]}
    units = {row["tag"]: row for row in tables["units.csv"]}
    last: dict[tuple[str, str, str], Row] = {}
    for row in sorted(tables["readings.csv"], key=lambda row: row["taken_on"]):
        if not row["set_aside"]:
            last[row["tag"], row["measurement"], row["point"]] = row
    found: list[tuple[str, str, str]] = []
    for (tag, measurement, point), row in last.items():
        model = models[units[tag]["model"]]
        result = _result(row, model)
        limit = nearest_limit(_limits(tables, units[tag], model, measurement, point), DEMO_DAY)
        said = verdict(result, limit)
        if said in OUT:
            found.append((tag, measurement, said))
    return found


def _result(row: Row, model: Row) -> float | str:
    if row["value"] in ("pass", "marginal", "fail"):
        return row["value"]
    own = {"spindle speed": "r/min"}.get(row["measurement"], row["measured_in"])
    nominal = float(model["nominal_speed"] or 0)
    return to_measured(parse_number(row["value"]), row["measured_in"], own, nominal, 50)


def test_one_unit_in_service_is_out_of_limits_on_its_last_reading(tables: Tables) -> None:
    """Its speed is high by more than 1.5 %; besides it only the donor's cracked head is out."""
    tag = one_in_role("out of limits")
    donor = one_in_role("donor")

    assert sorted(_out_of_limits(tables)) == sorted([(tag, "spindle speed", "high"), (donor, "head condition", "fail")])


def test_a_service_that_says_ready_measured_what_its_procedures_retest(tables: Tables) -> None:
    """Each retest of each procedure done has a reading as left in that service."""
    retests = {row["procedure"]: listed(row["retests"]) for row in reference_rows("procedures")}
    left = {(r["service"], r["measurement"]) for r in tables["readings.csv"] if r["stage"] == "as left"}
    checked = 0
    for row in tables["services.csv"]:
        if row["outcome"] not in ("ready", "in use"):
            continue
        for procedure in listed(row["procedures"]):
            for measurement in retests[procedure]:
                checked += 1
                assert (row["service"], measurement) in left, row
    assert checked > 100


def test_services_do_only_procedures_that_apply_to_the_unit(tables: Tables) -> None:
    """No belt on a direct drive, no rail check on a drive."""
    applies = {row["procedure"]: listed(row["applies_to"]) for row in reference_rows("procedures")}
    models = {row["model"]: row for row in tables["models.csv"]}
    units = {row["tag"]: models[row["model"]] for row in tables["units.csv"]}
    for row in tables["services.csv"]:
        model = units[row["tag"]]
        for procedure in listed(row["procedures"]):
            assert {model["kind"], model["drive_type"]} & set(applies[procedure]), row
