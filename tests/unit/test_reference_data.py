"""The reference data that a new book starts with: complete, readable, and each row with its source."""

import csv
import re
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest

from collection.analysis.limits import Limit, classes_of, nearest_limit, verdict
from collection.analysis.procedures import ProcedureRule, parse_procedure
from collection.errors import fold
from collection.quantity import parse_number, to_steps, unit_of
from collection.store.shipped import shipped

Row = dict[str, str]

FILES = {
    "measurements.csv": "measurement measured_in ratio points source note",
    "limits.csv": "class measurement point nominal lower upper source from_date",
    "procedures.csv": "procedure revision applies_to every_months every_hours triggers minutes resets retests"
    " lubricates cautions steps source",
    "amounts.csv": "procedure supply quantity measured_in chance source",
    "supplies.csv": "supply kind measured_in smallest_step tracked density polymer thickener strength size"
    " fits shelf_life_months open_life_months wanted_chance note source",
    "shelf_lives.csv": "what name months extension_months source",
    "supply_cautions.csv": "kind caution source",
}
PROCEDURES = (
    "arrival check; dust out; clean head; clean and re-lube rails; replace belt; set track-zero stop;"
    " align head; check spindle speed; set spindle speed; rail and ripple check; visual check of capacitors;"
    " store away"
)
# Cautions that each procedure must carry, as a pattern each that its cautions are searched for.
MUST_CAUTION = {
    "arrival check": [
        "two people", "mains", "measure before touching", "paper", "leaking", "cells", "oil-filled",
        "do not open, drill or sand", "leaded solder", "wrist strap", "dummy load", "untried drive",
        "write-protect", "tar",
    ],
    "dust out": [
        "outdoors", "goggles", "mask", "fan and spindle still", "head arm", "measure before touching",
    ],
    "clean head": ["H225", "H319", "H336", "rubber and felt", "lift or bend the upper head arm", "rags"],
    "clean and re-lube rails": ["H225", "rubber and felt", "lift or bend the upper head arm", "rags"],
    "replace belt": ["tar", "H225", "rubber and felt", "rags", "write-protect"],
    "set track-zero stop": ["head arm", "wrist strap", "untried drive"],
    "align head": ["no reference disk into an untried drive", "head arm", "write-protect"],
    "check spindle speed": ["write-protect", "dummy load", "before it touches a drive"],
    "set spindle speed": ["write-protect", "wrist strap"],
    "rail and ripple check": [
        "alone on a dummy load", "mains", "qualified person", "local rules", "measure before touching",
        "paper", "regulators", "7 V",
    ],
    "visual check of capacitors": [
        "mains", "measure before touching", "paper", "leaking capacitors and cells", "regulators",
        "oil-filled", "never wear one on live mains work",
    ],
    "store away": ["two people", "cells"],
}  # fmt: skip


def _read(name: str) -> list[Row]:
    path: Path = shipped("seed_data", "reference", name)
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def _named(name: str, column: str) -> dict[str, Row]:
    return {row[column]: row for row in _read(name)}


def _rule(row: Row) -> ProcedureRule:
    return parse_procedure(
        1,
        row["procedure"],
        applies_to=row["applies_to"],
        every_months=int(row["every_months"]) if row["every_months"] else None,
        every_hours=float(row["every_hours"]) if row["every_hours"] else None,
        triggers=row["triggers"],
        resets=row["resets"],
        retests=row["retests"],
        minutes=int(row["minutes"]),
    )


@pytest.fixture(scope="module")
def rules() -> dict[str, ProcedureRule]:
    """Every procedure of the reference data, as the due list reads it."""
    return {row["procedure"]: _rule(row) for row in _read("procedures.csv")}


@pytest.mark.parametrize("name", FILES)
def test_each_file_has_its_columns_and_its_seed_columns(name: str) -> None:
    """The headings are those of the CSV folder, and a source, a seed key and a seed revision."""
    path = shipped("seed_data", "reference", name)

    heading = next(csv.reader(path.read_text(encoding="utf-8").splitlines()))

    assert [*FILES[name].split(), "seed_key", "seed_revision"] == heading


@pytest.mark.parametrize("name", FILES)
def test_every_row_says_where_it_comes_from(name: str) -> None:
    """A row without a source could not be told from an invention."""
    rows = _read(name)

    assert rows
    assert [row["seed_key"] for row in rows if len(row["source"]) < len("from memory")] == []


def test_seed_keys_are_unique_short_slugs_with_a_revision() -> None:
    """An upgrade finds its rows by seed key alone, so no two rows share one."""
    rows = [row for name in FILES for row in _read(name)]
    keys = [row["seed_key"] for row in rows]

    assert len(keys) == len(set(keys))
    assert [key for key in keys if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", key) or len(key) > 60] == []
    assert all(int(row["seed_revision"]) >= 1 for row in rows)


def test_sources_name_documents_without_naming_makers_or_private_paths() -> None:
    """A source is a document with its clause, a named data sheet, or one of the two admissions."""
    known = re.compile(
        r"common practice, no source|from memory|ISO \d|IASA-TC 0\d|DIN \d|IEC \d|EN \d|NIOSH|ATX12V|doc\. \d"
        r"|data sheet|engineering specification|shelf-life table|lubricant maker"
    )

    assert [row["source"] for name in FILES for row in _read(name) if not known.search(row["source"])] == []


def test_units_of_measure_are_known_or_graded() -> None:
    """Every measurement can be entered, and rails and ripple know their four points."""
    measurements = _named("measurements.csv", "measurement")
    units = {name: row["measured_in"] for name, row in measurements.items()}

    assert all(unit == "graded" or unit_of(unit).symbol == unit for unit in units.values())
    assert (units["spindle speed"], measurements["spindle speed"]["ratio"]) == ("r/min", "yes")
    assert measurements["rail voltage"]["points"] == "+5 V; +12 V; -5 V; -12 V"
    assert measurements["ripple"]["points"] == "+5 V; +12 V; -5 V; -12 V"


def test_the_twelve_procedures_are_there_in_the_order_of_work() -> None:
    """Their names are fixed, since services, amounts and triggers refer to them."""
    assert PROCEDURES.split("; ") == [row["procedure"] for row in _read("procedures.csv")]


def test_triggers_resets_and_retests_are_understood(rules: dict[str, ProcedureRule]) -> None:
    """Every procedure parses, and what it resets or retests is a measurement of the list."""
    known = {fold(name) for name in _named("measurements.csv", "measurement")}

    named = {reset.measurement for rule in rules.values() for reset in rule.resets}
    named |= {name for rule in rules.values() for name in rule.retests}

    assert named
    assert set() == named - known


def test_checking_the_speed_resets_nothing_and_setting_it_resets_the_level(
    rules: dict[str, ProcedureRule],
) -> None:
    """Drift is judged over checks and starts anew only where something was turned or replaced."""
    check, setting = rules["check spindle speed"], rules["set spindle speed"]
    belt, align = rules["replace belt"], rules["align head"]

    assert (check.resets, check.retests) == ((), ("spindle speed",))
    assert [(reset.measurement, reset.slope) for reset in setting.resets] == [("spindle speed", False)]
    assert [(reset.measurement, reset.slope) for reset in belt.resets] == [("spindle speed", True)]
    assert {"radial alignment", "azimuth", "index timing"} == {reset.measurement for reset in align.resets}
    assert not any(reset.slope for reset in align.resets)


@pytest.mark.parametrize(
    ("procedure", "fits", "fits_not"),
    [
        ("set spindle speed", ["direct adjustable", "belt"], ["direct crystal", "AC motor", "unknown"]),
        ("replace belt", ["belt"], ["direct adjustable", "direct crystal", "AC motor"]),
        ("clean head", ["belt", "direct crystal"], []),
    ],
)
def test_procedures_apply_to_the_right_drives(
    rules: dict[str, ProcedureRule], procedure: str, fits: list[str], fits_not: list[str]
) -> None:
    """A crystal drive has no trimmer, and only a belt drive has a belt."""
    rule = rules[procedure]

    assert all(rule.applies("drive", drive_type, "", "") for drive_type in fits)
    assert not any(rule.applies("drive", drive_type, "", "") for drive_type in fits_not)
    assert not rule.applies("supply unit", "", "", "")


def test_only_supply_units_get_the_rail_check(rules: dict[str, ProcedureRule]) -> None:
    """Rails are measured at a supply unit of either kind, not at the drive it feeds."""
    rule = rules["rail and ripple check"]

    assert rule.applies("supply unit", "", "", "")
    assert rule.applies("PC supply", "", "", "")
    assert not rule.applies("drive", "belt", "", "")


@pytest.mark.parametrize("procedure", MUST_CAUTION)
def test_each_procedure_carries_its_cautions(procedure: str) -> None:
    """What can hurt a person or spoil a unit in this work stands among its cautions."""
    cautions = _named("procedures.csv", "procedure")[procedure]["cautions"].casefold()

    assert [topic for topic in MUST_CAUTION[procedure] if topic.casefold() not in cautions] == []


@pytest.mark.parametrize("procedure", PROCEDURES.split("; "))
def test_steps_are_numbered_and_every_caution_stands_before_a_step(procedure: str) -> None:
    """Steps count up from 1; a line of caution is always followed by the step it is meant for."""
    lines = _named("procedures.csv", "procedure")[procedure]["steps"].split("\n")

    numbers = [int(line.split(". ")[0]) for line in lines if not line.startswith("Caution: ")]

    assert list(range(1, len(numbers) + 1)) == numbers
    assert any(line.startswith("Caution: ") for line in lines)
    assert not lines[-1].startswith("Caution: ")
    assert not any(a.startswith("Caution: ") and b.startswith("Caution: ") for a, b in pairwise(lines))


def test_no_text_teaches_how_to_discharge_a_capacitor() -> None:
    """Stored charge is measured and left to qualified people; a how-to would invite risky work."""
    text = " ".join(" ".join(row.values()) for name in FILES for row in _read(name))

    assert re.search(r"discharg|bleed|short(ing)? (out|across)|screwdriver|ohm|Ω", text, re.IGNORECASE) is None


def test_every_amount_belongs_to_a_procedure_and_is_whole_steps_of_a_supply() -> None:
    """The shopping list multiplies these rows, so none may point nowhere or need rounding."""
    supplies, procedures = _named("supplies.csv", "supply"), _named("procedures.csv", "procedure")
    for row in _read("amounts.csv"):
        supply = supplies[row["supply"]]
        step = parse_number(supply["smallest_step"])

        steps = to_steps(parse_number(row["quantity"]), row["measured_in"], supply["measured_in"], step)

        assert row["procedure"] in procedures
        assert steps >= 1
        assert row["chance"] == "" or 0 < Decimal(row["chance"]) <= 1


def _verdict(units_classes: tuple[str, ...], measurement: str, point: str, value: float) -> str:
    ranks = {fold(name): rank for rank, name in enumerate(units_classes)}
    found = [
        Limit(
            float(row["nominal"]) if row["nominal"] else None,
            float(row["lower"]) if row["lower"] else None,
            float(row["upper"]) if row["upper"] else None,
            class_rank=ranks[fold(row["class"])],
            point=row["point"],
        )
        for row in _read("limits.csv")
        if row["measurement"] == measurement and row["point"] in ("", point) and fold(row["class"]) in ranks
    ]
    return verdict(value, nearest_limit(found, "2024-01-01"))


DRIVE_300 = classes_of("drive", "belt", (300.0,), "")
DRIVE_360 = classes_of("drive", "belt", (360.0,), "")
SUPPLY_UNIT = classes_of("supply unit", "", (), "+5 V")
PC_SUPPLY = classes_of("PC supply", "", (), "+5 V")


@pytest.mark.parametrize(
    ("classes", "measurement", "point", "below", "least", "most", "above"),
    [
        # ±1.5 % of nominal: engineering specification of a belt-driven 130 mm drive, 1984, clause 4.2
        (DRIVE_300, "spindle speed", "", 295.4, 295.5, 304.5, 304.6),
        (DRIVE_360, "spindle speed", "", 354.5, 354.6, 365.4, 365.5),
        # the same specification, clause 4.5: 5 ± 0.25 V and 12 ± 0.6 V
        (SUPPLY_UNIT, "rail voltage", "+5 V", 4.74, 4.75, 5.25, 5.26),
        (SUPPLY_UNIT, "rail voltage", "+12 V", 11.39, 11.40, 12.60, 12.61),
        # desktop power supply design guide, doc. 336521, Table 4-2, the printed volts
        (PC_SUPPLY, "rail voltage", "+5 V", 4.74, 4.75, 5.25, 5.26),
        (PC_SUPPLY, "rail voltage", "+12 V", 11.19, 11.20, 12.60, 12.61),
        # TTL circuits: data sheet SDLS025B, recommended operating conditions
        (("TTL",), "rail voltage", "+5 V", 4.74, 4.75, 5.25, 5.26),
    ],
)
def test_limits_pass_at_their_bounds_and_fail_beyond(
    classes: tuple[str, ...],
    measurement: str,
    point: str,
    below: float,
    least: float,
    most: float,
    above: float,
) -> None:
    """Each published range is checked below, at and above both of its bounds."""
    verdicts = [_verdict(classes, measurement, point, value) for value in (below, least, most, above)]

    assert verdicts == ["low", "within", "within", "high"]


def test_a_negative_rail_is_low_when_it_is_small_in_size() -> None:
    """-12 V within ±10 %, doc. 336521 Table 4-2: -10.80 passes, -10.79 is low, -13.21 is high."""
    verdicts = [_verdict(PC_SUPPLY, "rail voltage", "-12 V", v) for v in (-10.79, -10.80, -13.20, -13.21)]

    assert verdicts == ["low", "within", "within", "high"]


@pytest.mark.parametrize(("point", "most"), [("+5 V", 50), ("+12 V", 120), ("-5 V", 100), ("-12 V", 120)])
def test_ripple_of_a_pc_supply_passes_at_the_printed_figure(point: str, most: int) -> None:
    """ATX12V design guide v1.1, clause 3.2.6, Table 11, in mVpp: the figure passes, one more fails."""
    assert _verdict(PC_SUPPLY, "ripple", point, most) == "within"
    assert _verdict(PC_SUPPLY, "ripple", point, most + 1) == "high"


def test_shelf_lives_are_those_of_the_groups_of_iso_2230() -> None:
    """Initial period and extension in years: group A 5 + 2, B 7 + 3, C 10 + 5; unknown rubber counts as A."""
    rows = [row for row in _read("shelf_lives.csv") if row["what"] == "polymer"]
    groups = {(5, 2): "A", (7, 3): "B", (10, 5): "C"}

    named: dict[str, set[str]] = {"A": set(), "B": set(), "C": set()}
    for row in rows:
        named[groups[int(row["months"]) // 12, int(row["extension_months"]) // 12]].add(row["name"])

    assert named["A"] == {"NR", "IR", "BR", "SBR", "AU", "EU", "unknown"}
    assert named["B"] == {"NBR", "HNBR", "XNBR", "CR", "IIR", "ACM", "ECO"}
    assert named["C"] == {"EPM", "EPDM", "FKM", "VMQ", "FVMQ", "CSM", "CM"}


def test_greases_keep_five_or_two_years_by_their_thickener() -> None:
    """A lubricant maker's table: lithium and its like 5 years sealed, calcium and its like 2 years."""
    months = {row["name"]: int(row["months"]) for row in _read("shelf_lives.csv") if row["what"] == "thickener"}

    assert {m: list(months.values()).count(m) for m in (60, 24)} == {60: 4, 24: 7}
    assert (months["lithium"], months["silicone"], months["any, NLGI 000 to 0"]) == (60, 24, 24)


def test_every_kind_of_supply_that_can_harm_has_a_caution() -> None:
    """Solvent, grease, belts, rags, solder, cells, capacitors, filters and insulation are all spoken of."""
    kinds = {row["kind"] for row in _read("supply_cautions.csv")}

    spoken = "solvent; lubricant; belt; swab; cloth; solder; cell; capacitor; mains filter; insulation"
    assert kinds == set(spoken.split("; "))
