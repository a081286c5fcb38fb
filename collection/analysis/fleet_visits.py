"""When the invented club opened which unit and why: yearly services, checks between, special visits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from collection.analysis.fleet_dice import Dice, days_from_today

Row = dict[str, str]

FIRST_DAY = -1085  # three years less the time of writing the book
_HALF, _YEAR = 182, 364
_CLEAR_OF_SPECIAL = 25  # days: nobody opens a unit twice in a month without a reason
_NOT_YET = -20  # the last days are left to what the demo tells about them


@dataclass(frozen=True, slots=True)
class Member:
    """A unit of the fleet. nominal: r/min, 0 for a supply unit; last_service: days from today, or None."""

    tag: str
    kind: str
    drive_type: str
    model: str
    media: str
    nominal: float
    adjustable: bool
    role: str
    last_service: int | None


@dataclass(frozen=True, slots=True)
class Visit:
    """One service: opened and closed in days from today (closed None: still open), and the work done.

    special: the row that asked for it, empty for a regular service.
    """

    tag: str
    opened: int
    closed: int | None
    procedures: tuple[str, ...]
    reason: str
    special: Mapping[str, str]


def members(demo: Mapping[str, Sequence[Row]]) -> list[Member]:
    """Return the fleet that units.csv, models.csv and roles.csv describe, in their order."""
    models = {row["model"]: row for row in demo["models.csv"]}
    roles = {row["tag"]: row for row in demo["roles.csv"]}
    return [_member(unit, models[unit["model"]], roles[unit["tag"]]) for unit in demo["units.csv"]]


def _member(unit: Row, model: Row, role: Row) -> Member:
    last = role["last_service"]
    return Member(
        tag=unit["tag"],
        kind=model["kind"],
        drive_type=model["drive_type"],
        model=unit["model"],
        media=model["media"],
        nominal=float(model["nominal_speed"] or 0),
        adjustable=model["speed_adjustable"] == "yes",
        role=role["role"],
        last_service=days_from_today(last) if last else None,
    )


def visits_of(member: Member, since: int, demo: Mapping[str, Sequence[Row]], dice: Dice) -> list[Visit]:
    """Return the visits of one unit that came to the club on day `since`, oldest first."""
    special = [_special(row) for row in demo["visits.csv"] if row["tag"] == member.tag]
    taken = [(visit.opened - _CLEAR_OF_SPECIAL, visit.opened + _CLEAR_OF_SPECIAL) for visit in special]
    taken += _away(member.tag, demo["loans.csv"])
    regular = [
        visit
        for visit in _regular(member, since, dice)
        if not any(start <= visit.opened <= end for start, end in taken)
    ]
    return sorted([*special, *regular], key=lambda visit: visit.opened)


def _special(row: Row) -> Visit:
    closed = days_from_today(row["closed_on"]) if row["closed_on"] else None
    work = tuple(name.strip() for name in row["procedures"].split(";"))
    return Visit(row["tag"], days_from_today(row["opened_on"]), closed, work, row["reason"], row)


def _away(tag: str, loans: Iterable[Row]) -> list[tuple[int, int]]:
    """Return the days from which to which a unit was lent out."""
    return [
        (days_from_today(loan["out_on"]), days_from_today(loan["back_on"] or "today"))
        for loan in loans
        if loan["tag"] == tag and loan["direction"] == "out"
    ]


def _regular(member: Member, since: int, dice: Dice) -> Iterator[Visit]:
    """Yield the first service, then counting back from the last one a service a year and a check between."""
    if member.last_service is None:
        return
    first = max(since + dice.whole(3, 6), FIRST_DAY + dice.whole(0, 9))
    yield _visit(member, first, "taken into the book", dice)
    full = member.last_service
    while full > first + _CLEAR_OF_SPECIAL:
        yield _visit(member, full, "yearly service", dice)
        between = full + _HALF + dice.whole(-12, 12)
        neglected = member.role == "overdue work" and full == member.last_service
        if between < _NOT_YET and not neglected:
            yield _visit(member, between, "half-year check", dice)
        full -= _YEAR + dice.whole(-14, 14)


def _visit(member: Member, opened: int, reason: str, dice: Dice) -> Visit:
    closed = opened + (dice.whole(1, 2) if dice.chance(0.2) else 0)
    return Visit(member.tag, opened, closed, _work(member, reason), reason, {})


def _work(member: Member, reason: str) -> tuple[str, ...]:
    """Return the procedures of a regular visit, in the order of work."""
    if member.kind != "drive":
        check = ("rail and ripple check",)
        if reason == "half-year check":
            return check
        arrival = ("arrival check",) if reason == "taken into the book" else ()
        return (*arrival, "dust out", "visual check of capacitors", *check)
    if reason == "half-year check":
        return ("clean head", "check spindle speed")
    full = ("dust out", "clean head", "clean and re-lube rails", "visual check of capacitors")
    if reason == "yearly service":
        return (*full, "check spindle speed")
    belt = ("replace belt",) if member.drive_type == "belt" else ()
    return ("arrival check", *full, *belt, "check spindle speed")
