"""Three years of an invented club, made from a seed, and the truth behind them.

Everything is told in days from today ("today-420"), so the same seed gives the same club on any day. The
truth stands beside the data, so that whoever judges drift, instruments or limits can be judged in turn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypedDict

from collection.analysis.fleet_bench import NOISE, OFFSETS, Bench
from collection.analysis.fleet_dice import Dice, day_text, days_from_today
from collection.analysis.fleet_drawer import Drawer
from collection.analysis.fleet_visits import Member, Row, Visit, members, visits_of

SEED = "spindlebook demo 1"
Tables = dict[str, list[Row]]

SERVICE_COLUMNS = (
    "service", "tag", "opened_on", "closed_on", "procedures", "reason", "outcome", "minutes", "by",
    "findings",
)  # fmt: skip
PART_COLUMNS = ("tag", "part", "fitted_on", "removed_on", "supply", "lot", "donor", "service")
FAULT_COLUMNS = ("tag", "noticed_on", "symptom", "cause", "cure", "closed_on", "service", "by")
_PARTS = {"belt": "belt", "capacitor": "filter capacitor"}  # by kind of supply
_FINDINGS = ("", "", "nothing to note", "old grease brown, rails dry", "dust round the spindle", "all well")


class Truth(TypedDict):
    """What the generator knows and a reader of the book has to find out.

    offsets, noise: per instrument that reads spindle speed, in per cent of the speed (mean and standard
    deviation). segments: per drive, oldest first, (day from today, true error in per cent on that day, slope
    in per cent a year), on the scale 100 ln(speed / nominal). slopes: the slope of the last segment. roles:
    what each unit is there to show, by tag. stray: readings spoilt by a slipping disk, (tag, day from today).
    """

    offsets: dict[str, float]
    noise: dict[str, float]
    segments: dict[str, list[tuple[int, float, float]]]
    slopes: dict[str, float]
    roles: dict[str, str]
    stray: list[tuple[str, int]]


def history(demo: Mapping[str, Sequence[Row]], seed: str = SEED) -> tuple[Tables, Truth]:
    """Return the generated rows by file name, and the truth.

    Made are services, readings, uses, counts, parts, faults and lots (with the day each was opened). demo:
    its own tables by file name, with procedures, amounts and supplies of the reference data among them.
    Days are texts as "today-420" on both sides; rows of one day stand in the order they happened.
    """
    fleet = members(demo)
    pairings = demo["pairings.csv"]
    benches = {unit.tag: Bench(unit, pairings, Dice(f"{seed}/{unit.tag}/bench")) for unit in fleet}
    services, readings = _at_the_bench(_all_visits(fleet, demo, seed), benches)
    drawer = Drawer(demo, Dice(f"{seed}/drawer"))
    drawer.run([(name, visit, benches[visit.tag].member.model) for name, visit in services])
    tables = {
        "services.csv": _service_rows(services, demo, Dice(f"{seed}/people")),
        "readings.csv": readings,
        "uses.csv": drawer.uses,
        "counts.csv": drawer.counts,
        "parts.csv": _part_rows(services, drawer),
        "faults.csv": _fault_rows(services),
        "lots.csv": drawer.lot_rows(),
    }
    return tables, _truth(fleet, benches)


def _all_visits(fleet: Sequence[Member], demo: Mapping[str, Sequence[Row]], seed: str) -> list[Visit]:
    """Return every visit, oldest first, those of one day in the order of the fleet."""
    acquired = {row["tag"]: days_from_today(row["acquired_on"]) for row in demo["units.csv"]}
    visits = [
        visit
        for member in fleet
        for visit in visits_of(member, acquired[member.tag], demo, Dice(f"{seed}/{member.tag}/visits"))
    ]
    return sorted(visits, key=lambda visit: visit.opened)


def _at_the_bench(visits: Sequence[Visit], benches: Mapping[str, Bench]) -> tuple[list[tuple[str, Visit]], list[Row]]:
    """Return the services by name, as they turned out, and all readings taken in and outside them."""
    services, readings = [], []
    for number, planned in enumerate(visits, start=1):
        name = f"S{number:03}"
        visit, rows = benches[planned.tag].read(planned, name)
        services.append((name, visit))
        readings += rows
    return services, readings + [row for bench in benches.values() for row in bench.between()]


def _service_rows(services: Sequence[tuple[str, Visit]], demo: Mapping[str, Sequence[Row]], dice: Dice) -> list[Row]:
    minutes = {row["procedure"]: int(row["minutes"]) for row in demo["procedures.csv"]}
    hands = [row["person"] for row in demo["people.csv"] if row["role"] in ("keeper", "issuer", "member")]
    in_use = {row["tag"] for row in demo["units.csv"] if row["standing"] == "in use"}
    rows = []
    for name, visit in services:
        after = "in use" if visit.tag in in_use else "ready"
        rows.append(_service_row(name, visit, after, minutes, dice.pick(hands), dice))
    return rows


def _service_row(name: str, visit: Visit, after: str, minutes: Mapping[str, int], by: str, dice: Dice) -> Row:
    """Return the row of one service; an open one has no end, outcome or minutes yet."""
    spent = 5 * round(sum(minutes[work] for work in visit.procedures) * dice.whole(80, 130) / 500)
    finding = dice.pick(_FINDINGS)
    done = visit.closed is not None
    values = (
        name,
        visit.tag,
        day_text(visit.opened),
        day_text(visit.closed) if visit.closed is not None else "",
        "; ".join(visit.procedures),
        visit.reason,
        (visit.special.get("outcome") or after) if done else "",
        str(spent) if done else "",
        by,
        visit.special.get("findings", finding),
    )
    return dict(zip(SERVICE_COLUMNS, values, strict=True))


def _part_rows(services: Sequence[tuple[str, Visit]], drawer: Drawer) -> list[Row]:
    """Return what was fitted from a lot; a part that was fitted again later was removed that day."""
    rows: list[Row] = []
    for name, visit in services:
        for (service, supply), lots in drawer.taken_from.items():
            part = _PARTS.get(drawer.supplies[supply]["kind"])
            if service != name or part is None:
                continue
            for row in rows:
                if row["tag"] == visit.tag and row["part"] == part and not row["removed_on"]:
                    row["removed_on"] = day_text(visit.opened)
            values = (visit.tag, part, day_text(visit.opened), "", supply, lots[0], "", name)
            rows.append(dict(zip(PART_COLUMNS, values, strict=True)))
    return rows


def _fault_rows(services: Sequence[tuple[str, Visit]]) -> list[Row]:
    """Return the faults that services found and cured."""
    rows: list[Row] = []
    for name, visit in services:
        told = visit.special
        if told.get("symptom") and visit.closed is not None:
            row = {column: told.get(column, "") for column in FAULT_COLUMNS}
            rows.append({**row, "closed_on": day_text(visit.closed), "service": name})
    return rows


def _truth(fleet: Sequence[Member], benches: Mapping[str, Bench]) -> Truth:
    segments = {
        tag: [(each.start, each.level, each.slope) for each in bench.segments]
        for tag, bench in benches.items()
        if bench.segments
    }
    return Truth(
        offsets=dict(OFFSETS),
        noise=dict(NOISE),
        segments=segments,
        slopes={tag: begun[-1][2] for tag, begun in segments.items()},
        roles={member.tag: member.role for member in fleet if member.role},
        stray=[each for bench in benches.values() for each in bench.stray],
    )
