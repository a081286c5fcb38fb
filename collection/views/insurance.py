"""The schedule of insured contents on a day: every thing once, what it is worth, where it is, and what that makes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.insurance import (
    AT_COST,
    NONE,
    OF_MODEL,
    WITH_ANOTHER,
    Sum,
    sums_by,
    value_state,
)
from collection.quantity import Money
from collection.store.book import BookSettings, open_book
from collection.views.drawer import drawer
from collection.views.insurance_facts import (
    Bare,
    Details,
    bare_things,
    borrowed,
    details,
    inside,
    not_yet,
    photos,
    tested,
)
from collection.views.policies import IN_FORCE, Policy, policy_list
from collection.views.unit_list import Wanted
from collection.views.units import Loan, Unit
from collection.views.worth import Valued, Worth, worth_list

CONTENTS, BORROWED, MISSING = "contents", "borrowed", "missing"
SPARES = "spares"


@dataclass(frozen=True, slots=True)
class Item:
    """One thing on the schedule.

    unit, details: None for what is no unit of the book. name, kind, described: what it is. loan: who has it, or, of a
    borrowed one, who lent it. valued: None where nothing says what it is worth. state: of its value, a word of
    `analysis.insurance`. with_tag: the unit inside which it stands and with which it counts, else "". tested_on: ""
    where nothing was ever measured of it. photos: how many the book has.
    """

    section: str
    name: str
    kind: str
    described: str
    unit: Unit | None
    details: Details | None
    loan: Loan | None
    valued: Valued | None
    state: str
    with_tag: str
    tested_on: str
    photos: int

    @property
    def counted(self) -> Money | None:
        """What it adds to the sum of its section; None for nothing."""
        return None if self.valued is None or self.with_tag else self.valued.amount

    @property
    def owner(self) -> str:
        """Whose it is, "" where that is not told."""
        return self.unit.owner if self.unit else ""

    @property
    def location(self) -> str:
        """Where it stands, or stood before it was lent; "" where that is not told."""
        return self.unit.location if self.unit else ""


@dataclass(frozen=True, slots=True)
class Schedule:
    """The schedule of a day: the things by section and in order of their tags, and the policies in force on it."""

    day: date
    months: int
    settings: BookSettings
    items: tuple[Item, ...]
    policies: tuple[Policy, ...]
    unpriced: int

    def of(self, section: str) -> list[Item]:
        """Return the things of one section."""
        return [item for item in self.items if item.section == section]

    def totals(self, *sections: str) -> dict[str, Money]:
        """Return the sum of each currency over some sections."""
        return {each.total.currency: each.total for each in sums_by(("", amount) for _, amount in self._sums(sections))}

    def by(self, what: str, *sections: str) -> list[Sum]:
        """Return the sums by "owner", "location" or "kind" over some sections."""
        return sums_by((getattr(item, what), amount) for item, amount in self._sums(sections))

    def insured(self) -> dict[str, Money]:
        """Return the sum insured of each currency by the policies in force."""
        sums = [("", policy.insured) for policy in self.policies if policy.insured is not None]
        return {each.total.currency: each.total for each in sums_by(sums)}

    def flagged(self, state: str) -> list[Item]:
        """Return the things whose value is in some state, missing ones apart."""
        return [item for item in self.items if item.state == state and item.section != MISSING]

    def _sums(self, sections: Sequence[str]) -> Iterator[tuple[Item, Money]]:
        for item in self.items:
            if item.section in sections and item.counted is not None:
                yield item, item.counted


def schedule(conn: Connection, day: date, months: int) -> Schedule:
    """Return what there is on a day by what `conn` knows.

    months: after how many a valuation is out of date. A unit that stands inside another one which has a value counts
    with that one; things that are gone, or had not come, are left out; missing ones are listed and count for nothing.
    What its model costs to replace is no value of a donor, which is no working one.
    """
    worths = worth_list(conn, day, Wanted())
    away = not_yet(conn, day, [each.unit for each in worths])
    there = [_whole(each) for each in worths if each.unit.id not in away]
    spares, unpriced = _spares(conn, day)
    items = [*_units(conn, day, months, there), *map(_bare, bare_things(conn, day)), *spares]
    policies = [each for each in policy_list(conn) if each.state(day) == IN_FORCE]
    return Schedule(day, months, open_book(conn).settings, tuple(items), tuple(policies), unpriced)


def _whole(worth: Worth) -> Worth:
    of_model = worth.valued is not None and not worth.valued.valued_on
    return worth._replace(valued=None) if of_model and worth.unit.standing == "donor" else worth


def _units(conn: Connection, day: date, months: int, worths: Sequence[Worth]) -> Iterator[Item]:
    own, here, read, seen = details(conn), borrowed(conn, day), tested(conn, day), photos(conn)
    valued = {each.unit.id: each for each in worths if each.valued is not None}
    hosts = inside(conn, day, own)
    sections = {each.unit.id: _section(each.unit, here) for each in worths}
    for each in worths:
        unit = each.unit
        host = hosts.get(unit.id)
        together = host is not None and host in valued and sections[host] == sections[unit.id]
        with_tag = valued[host].unit.tag if together and host is not None else ""
        yield Item(
            section=sections[unit.id],
            name=f"{unit.maker} {unit.model}".strip(),
            kind=unit.kind,
            described=unit.drive_type,
            unit=unit,
            details=own[unit.id],
            loan=here.get(unit.id) if sections[unit.id] == BORROWED else unit.loan,
            valued=each.valued,
            state=_state(each.valued, with_tag, day, months),
            with_tag=with_tag,
            tested_on=read.get(unit.id, ""),
            photos=seen.get(unit.id, 0),
        )


def _section(unit: Unit, here: dict[int, Loan]) -> str:
    if unit.standing == "missing":
        return MISSING
    return BORROWED if unit.id in here else CONTENTS


def _state(valued: Valued | None, with_tag: str, day: date, months: int) -> str:
    if with_tag:
        return WITH_ANOTHER
    if valued is None:
        return NONE
    return value_state(valued.valued_on, day, months) if valued.valued_on else OF_MODEL


def _bare(thing: Bare) -> Item:
    return Item(CONTENTS, thing.name, thing.kind, thing.described, None, None, None, None, NONE, "", "", 0)


def _spares(conn: Connection, day: date) -> tuple[list[Item], int]:
    """Return what is in the drawer as one sum of each currency, and how many lots have no known price."""
    lots = [lot for held in drawer(conn, day) if held.supply.tracked != "no" for lot in held.stock if lot.steps > 0]
    priced = [("", lot.value) for lot in lots if lot.value is not None]
    made = [_drawer_item(each, day) for each in sums_by(priced)]
    return made, len(lots) - len(priced)


def _drawer_item(held: Sum, day: date) -> Item:
    lots = "1 lot" if held.things == 1 else f"{held.things} lots"
    valued = Valued(0, held.total, "what it cost", day.isoformat(), "", "price of each lot by what is left of it")
    described = f"{lots} of supplies and spare parts, as one sum"
    return Item(CONTENTS, "Drawer", SPARES, described, None, None, None, valued, AT_COST, "", "", 0)


def dearest(items: Iterable[Item]) -> Item | None:
    """Return the thing that adds most to the sum; None where none does."""
    counted = [item for item in items if item.counted is not None and item.unit is not None]
    return max(counted, key=lambda item: item.counted.minor if item.counted else 0, default=None)


def worth_a_page(plan: Schedule, least: Money | None) -> list[Item]:
    """Return the units of value that get a page each: from a sum on, else from a tenth of their currency's total on."""
    from collection.analysis.insurance import USUAL_PAGE_SHARE

    totals = plan.totals(CONTENTS, BORROWED)

    def high(item: Item) -> bool:
        amount = item.counted
        if amount is None or item.unit is None or item.section == MISSING:
            return False
        if least is not None:
            return amount.currency == least.currency and amount.minor >= least.minor
        return amount.minor > 0 and amount.minor >= USUAL_PAGE_SHARE * totals[amount.currency].minor

    return [item for item in plan.items if high(item)]
