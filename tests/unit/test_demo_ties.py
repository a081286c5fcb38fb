"""The demo is consistent in itself: every name resolves, every reading and use belongs to its service."""

from collections import Counter, defaultdict

import pytest

from collection.analysis.fleet import Tables
from collection.quantity import parse_number
from collection.schema.equipment import STANDINGS
from collection.store.seed import reference_rows
from tests.support.demo import DEMO_DAY, all_supplies, demo, listed, texts_in


@pytest.fixture(scope="module")
def tables() -> Tables:
    """The demo's rows on a fixed day."""
    return demo()[0]


def _known(tables: Tables, what: str) -> set[str]:
    """Return the names that a column may refer to."""
    reference = {
        "measurement": {row["measurement"] for row in reference_rows("measurements")},
        "procedure": {row["procedure"] for row in reference_rows("procedures")},
        "supply": set(all_supplies(tables)),
    }
    if what in reference:
        return reference[what]
    file, column = {
        "tag": ("units.csv", "tag"),
        "model": ("models.csv", "model"),
        "person": ("people.csv", "person"),
        "location": ("locations.csv", "location"),
        "supplier": ("suppliers.csv", "supplier"),
        "instrument": ("instruments.csv", "instrument"),
        "service": ("services.csv", "service"),
        "lot": ("lots.csv", "lot"),
    }[what]
    return texts_in(tables, file, column)


REFERS = {
    "tag": "limits.csv.tag entries.csv.tag pairings.csv.drive pairings.csv.supply_unit services.csv.tag"
    " uses.csv.tag parts.csv.tag parts.csv.donor readings.csv.tag readings.csv.supply_unit hours.csv.tag"
    " faults.csv.tag valuations.csv.tag loans.csv.tag",
    "model": "units.csv.model limits.csv.model",
    "person": "units.csv.owner units.csv.acquired_from services.csv.by loans.csv.person valuations.csv.by"
    " faults.csv.by",
    "location": "units.csv.location locations.csv.inside",
    "supplier": "offers.csv.supplier lots.csv.supplier orders.csv.supplier",
    "instrument": "readings.csv.instrument",
    "service": "readings.csv.service uses.csv.service parts.csv.service faults.csv.service",
    "lot": "uses.csv.lot counts.csv.lot parts.csv.lot",
    "measurement": "readings.csv.measurement limits.csv.measurement instruments.csv.measurement",
    "procedure": "uses.csv.procedure amounts.csv.procedure",
    "supply": "uses.csv.supply counts.csv.supply lots.csv.supply offers.csv.supply orders.csv.supply"
    " amounts.csv.supply parts.csv.supply",
}


@pytest.mark.parametrize("what", REFERS)
def test_every_name_that_is_used_is_known(tables: Tables, what: str) -> None:
    """A row that names something unknown would be refused at import."""
    known, used = _known(tables, what), 0
    for place in REFERS[what].split():
        file, column = place.rsplit(".", 1)
        found = texts_in(tables, file, column) - {""}
        used += len(found)
        assert found <= known, place
    assert used


def test_entries_name_people_places_and_standings(tables: Tables) -> None:
    """The value of an entry is looked up by what it is about, and the last one is what the unit shows (unless lent)."""
    units = {row["tag"]: row for row in tables["units.csv"]}
    last = {}
    for row in tables["entries.csv"]:
        known = {
            "owner": _known(tables, "person"),
            "location": _known(tables, "location"),
            "standing": set(STANDINGS),
        }
        assert row["value"] in known[row["what"]]
        last[row["tag"], row["what"]] = row["value"]
    shown = {key: units[key[0]][key[1]] for key in last}
    assert last
    assert {key for key in last if shown[key] not in (last[key], "on loan")} == set()


def test_readings_belong_to_a_service_of_their_unit_on_its_days(tables: Tables) -> None:
    """As found on the day it was opened, as left on the day it was closed; between stands outside."""
    services = {row["service"]: row for row in tables["services.csv"]}
    stages = Counter(row["stage"] for row in tables["readings.csv"])
    for row in tables["readings.csv"]:
        if row["stage"] == "between":
            assert row["service"] == ""
            continue
        service = services[row["service"]]
        assert service["tag"] == row["tag"]
        day = service["opened_on"] if row["stage"] == "as found" else service["closed_on"] or DEMO_DAY.isoformat()
        assert service["opened_on"] <= row["taken_on"] <= day
    assert min(stages[stage] for stage in ("as found", "as left", "between")) >= 2


def test_as_found_stands_before_as_left_in_every_service(tables: Tables) -> None:
    """Inside a service the order of rows is the order of work."""
    ranks: dict[str, list[int]] = defaultdict(list)
    for row in tables["readings.csv"]:
        if row["service"]:
            ranks[row["service"]].append(("as found", "as left").index(row["stage"]))
    written = _joined_by_hand(tables)

    assert [name for name, found in ranks.items() if found != sorted(found) and name not in written] == []


def _joined_by_hand(tables: Tables) -> set[str]:
    """Return the services of units that carry readings written by hand, which follow the made ones."""
    return {row["service"] for row in tables["services.csv"] if row["tag"] in ("D6", "D7", "D14")}


def test_uses_belong_to_a_service_that_did_the_procedure(tables: Tables) -> None:
    """What a service used was used on its unit, on its day, for work it lists."""
    services = {row["service"]: row for row in tables["services.csv"]}
    tied = [row for row in tables["uses.csv"] if row["service"]]
    assert tied
    for row in tied:
        service = services[row["service"]]
        assert (row["tag"], row["used_on"]) == (service["tag"], service["opened_on"])
        assert row["procedure"] in listed(service["procedures"])


def test_points_of_rails_are_those_of_the_measurement(tables: Tables) -> None:
    """A rail is named as the measurement names it; graded readings are grades and all others numbers."""
    measurements = {row["measurement"]: row for row in reference_rows("measurements")}
    for row in tables["readings.csv"]:
        measurement = measurements[row["measurement"]]
        points = listed(measurement["points"])
        assert not points or row["point"] in points
        if measurement["measured_in"] == "graded":
            assert row["value"] in ("pass", "marginal", "fail")
        else:
            assert parse_number(row["value"]) is not None
        assert row["measured_in"] == "" or (row["measurement"], row["measured_in"]) == ("spindle speed", "ms")


def test_instruments_are_used_only_for_what_they_are_listed_for(tables: Tables) -> None:
    """Four instruments, each for its measurements; one of those for speed is the reference."""
    listed = {(row["instrument"], row["measurement"]) for row in tables["instruments.csv"]}
    used = {(row["instrument"], row["measurement"]) for row in tables["readings.csv"]}
    speed = [row for row in tables["instruments.csv"] if row["measurement"] == "spindle speed"]

    assert used <= listed
    assert len({name for name, _ in listed}) == 4
    assert [row["reference"] for row in speed].count("yes") == 1


def test_supply_units_of_readings_were_paired_with_the_drive_that_day(tables: Tables) -> None:
    """A reading names the supply unit that fed the drive."""
    seen = 0
    for row in tables["readings.csv"]:
        if not row["supply_unit"]:
            continue
        seen += 1
        assert any(
            (pair["drive"], pair["supply_unit"]) == (row["tag"], row["supply_unit"])
            and pair["from_date"] <= row["taken_on"] <= (pair["to_date"] or DEMO_DAY.isoformat())
            for pair in tables["pairings.csv"]
        )
    assert seen > 20
