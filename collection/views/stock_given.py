"""From the book to what the projection of a supply is given, with the names and days of all that goes in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from hashlib import sha256
from math import ceil
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.lead_time import Expected, expected, pooled_spread, usual_days
from collection.analysis.months import add_months
from collection.analysis.needs import SheetAmount
from collection.analysis.offers import Offer
from collection.analysis.shelf_life import Lives, LotFacts, usable_through
from collection.analysis.stock_plan.given import (
    AHEAD,
    WANTED,
    AmountGiven,
    JobGiven,
    LeadGiven,
    LotGiven,
    OfferGiven,
    OrderGiven,
    SupplyGiven,
)
from collection.analysis.take_order import usable
from collection.analysis.uses import SupplyLearnt
from collection.errors import fold
from collection.quantity import parse_day
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.drawer import Held, HeldLot, drawer
from collection.views.due import Rechecks
from collection.views.lead_times import lead_times
from collection.views.needs import sheet_amounts
from collection.views.orders import OrderLine, Supplier, offers, order_lines, suppliers
from collection.views.planned_work import PlannedWork, Work, planned_work
from collection.views.supplies import Supply, own_lives
from collection.views.uses import by_clock, learnt, piece_steps
from collection.views.wanted import WantedPart, open_wants

_OWN_SQL = f"""
SELECT s.id, s.wanted_chance,
       (SELECT max(m.occurred_on) FROM movement m WHERE m.supply_id = s.id AND {counts("m")}
        AND m.kind IN ('receive', 'use', 'short') AND m.occurred_on <= :day)
FROM supply s WHERE s.void = 0"""
# What a long time without use says of the chance accepted is said within a year.
_MOST_QUIET = 365
# A part that a unit waits for stands where an order of today is as good as sure to have come: three times the usual.
_SURELY = 3


class Own(NamedTuple):
    """What else a supply says of itself: the chance wanted.

    changed: the ISO day, maybe partial, on which stock last came or was used; None for never.
    """

    wanted: float | None
    changed: str | None


class Use(NamedTuple):
    """One piece of planned use: the work, or the part that a unit waits for; amount: its place among the amounts.

    about: as of the work.
    """

    on: date
    about: float
    spread: float
    chance: float
    unit_id: int
    tag: str
    procedure_id: int | None
    words: str
    amount: int


@dataclass(frozen=True, slots=True)
class Gathered:
    """What the projection of one supply is given, and the names of it.

    lots, uses, kinds, offers: as given.lots, .jobs, .amounts and .offers. lines: all open order lines, with the place
    of each among given.orders, None for one that cannot be counted on. untold: procedures of planned work of which
    nobody knows how much they take. waiting: the parts wanted that neither stock nor orders under way serve.
    """

    held: Held
    given: SupplyGiven
    lots: tuple[HeldLot, ...]
    uses: tuple[Use, ...]
    kinds: tuple[str, ...]
    lines: tuple[tuple[OrderLine, int | None], ...]
    offers: tuple[Offer, ...]
    untold: tuple[str, ...]
    wanted: tuple[WantedPart, ...]
    waiting: bool
    learnt: SupplyLearnt


class Source:
    """What is read once for all supplies."""

    def __init__(self, conn: Connection, today: date, rechecks: Rechecks | None = None) -> None:
        self.today = today
        self.settings = open_book(conn).settings
        self.drawer: Sequence[Held] = drawer(conn, today)
        self.offers: Mapping[int, Sequence[Offer]] = offers(conn)
        self.suppliers: Mapping[int, Supplier] = suppliers(conn)
        self.lines: Mapping[int, list[OrderLine]] = _by_supply(order_lines(conn))
        self.wanted = open_wants(conn)
        self.planned: PlannedWork = planned_work(conn, today, AHEAD, rechecks, self.settings.risk)
        self.sheets: defaultdict[int, dict[int, SheetAmount]] = defaultdict(dict)
        for each in sheet_amounts(conn):
            self.sheets[each.supply_id][each.procedure_id] = each
        self._lives: Lives = own_lives(conn)
        self._leads = lead_times(conn)
        self._lead_spread = pooled_spread(self._leads.values())
        self._own = {row[0]: Own(*row[1:]) for row in fetch(conn, _OWN_SQL, day=today.isoformat())}
        self._learnt = learnt(conn, today, self._foreseen(conn))

    def _foreseen(self, conn: Connection) -> frozenset[int]:
        """Return the procedures whose work is planned: by a clock, or as the setting that a recheck may ask for."""
        return by_clock(conn) | {one.job.procedure_id for one in self.planned.work if one.chance < 1}

    def wanted_of(self, supply: Supply) -> list[WantedPart]:
        """Return the parts of this supply that units wait for."""
        return [part for part in self.wanted if part.supply_id == supply.id]

    def work_of(self, supply: Supply) -> list[Work]:
        """Return the planned work by whose sheet, or by whose uses so far, the supply is taken."""
        sheets, known = self.sheets[supply.id], self._known(supply)
        return [
            one
            for one in self.planned.work
            if one.job.procedure_id in known and _fits(sheets.get(one.job.procedure_id), one)
        ]

    def _known(self, supply: Supply) -> set[int]:
        """Return the procedures that take the supply."""
        taught = self._learnt.get(supply.id)
        used = set() if taught is None else {each for each in taught.amounts if each is not None}
        return used | set(self.sheets[supply.id])

    def offers_of(self, supply: Supply) -> tuple[Offer, ...]:
        """Return the offers in the book's currency, else in the first other: sums of two have no order."""
        listed, own = self.offers.get(supply.id, ()), self.settings.currency
        currencies = sorted({offer.currency for offer in listed}, key=lambda code: (code != own, code))
        return tuple(offer for offer in listed if offer.currency == currencies[0])

    def gather(self, held: Held) -> Gathered:
        """Return what the projection of a counted supply is given."""
        supply = held.supply
        taught, own = self._learnt[supply.id], self._own[supply.id]
        lots = held.stock
        keeps = self._keeps(held)
        orders, lines = self._orders(supply, keeps)
        chosen = self.offers_of(supply)
        amounts, kinds, uses, untold = self._uses(supply, taught)
        wants, waiting = self._waiting(held, orders, chosen, amounts, kinds)
        uses = sorted([*uses, *wants], key=lambda use: use.on)
        unplanned = None
        if taught.unplanned is not None and None in taught.amounts:
            unplanned = taught.unplanned._replace(amount=len(amounts))
            amounts.append(taught.amounts[None])
            kinds.append("")
        given = SupplyGiven(
            # By the name: the same numbers from day to day, so that figures move only by what has happened.
            seed=int.from_bytes(sha256(fold(supply.name).encode()).digest()[:8], "big"),
            lots=tuple(self._lot(lot, supply) for lot in lots),
            jobs=tuple(JobGiven(use.about, use.spread, use.chance, use.amount) for use in uses),
            amounts=tuple(amounts),
            unplanned=unplanned,
            orders=tuple(orders),
            offers=tuple(self._offer(offer) for offer in chosen),
            wanted=WANTED if own.wanted is None else own.wanted,
            keeps=keeps,
            keeps_open=self._open_days(supply),
            drying=taught.drying,
            unbooked=taught.unbooked[:2],
            order_cost=self.settings.order_cost_minor or 0,
            quiet=self._quiet(supply, own, taught),
            work_days=self.planned.years,
        )
        if self.settings.holding_rate is not None:
            given = replace(given, holding=self.settings.holding_rate)
        return Gathered(
            held, given, lots, tuple(uses), tuple(kinds), lines, chosen, untold, tuple(self.wanted_of(supply)), waiting,
            taught,
        )  # fmt: skip

    # --- stock ---------------------------------------------------------------------------------------------

    def _quiet(self, supply: Supply, own: Own, taught: SupplyLearnt) -> int:
        """Return for how many days stock has not changed by a use, an arrival or an order."""
        days = [line.ordered_on for line in self.lines.get(supply.id, ())]
        if own.changed is not None:
            days.append(own.changed)
        since = [parse_day(day).first for day in days] or [taught.rests_on.since or self.today]
        return min(_MOST_QUIET, max(0, (self.today - max(since)).days))

    def _lot(self, lot: HeldLot, supply: Supply) -> LotGiven:
        through = lot.usable.through
        last = None if through is None else (through - self.today).days
        return LotGiven(lot.steps, last, None if lot.opened_on is not None else self._open_days(supply))

    def _open_days(self, supply: Supply) -> int | None:
        months = supply.ageing.open_life_months
        return None if months is None else (add_months(self.today, months) - self.today).days

    def _keeps(self, held: Held) -> int | None:
        """Return the days that a new lot keeps: as lots so far did from their arrival, else as one made today."""
        lived = []
        for lot in held.lots:
            if lot.lot is not None:
                through = usable_through(lot.lot.facts(None), held.supply.ageing, self._lives).through
                if through is not None:
                    lived.append((through - parse_day(lot.lot.received_on).first).days)
        if lived:
            return max(0, sorted(lived)[(len(lived) - 1) // 2])
        day = self.today.isoformat()
        new = usable_through(LotFacts(made=day, received_on=day), held.supply.ageing, self._lives).through
        return None if new is None else (new - self.today).days

    # --- suppliers -----------------------------------------------------------------------------------------

    def _lead(self, supplier: int, said: int | None) -> LeadGiven:
        return LeadGiven(said, self._leads.get(supplier, ()), self._lead_spread)

    def _offer(self, offer: Offer) -> OfferGiven:
        lead = self._lead(offer.supplier, offer.lead_days)
        least = offer.minimum_packs or 1
        return OfferGiven(
            offer.supplier, offer.pack_steps, offer.price_minor, offer.from_packs, least, offer.shipping_minor, lead
        )

    def _orders(
        self, supply: Supply, keeps: int | None
    ) -> tuple[list[OrderGiven], tuple[tuple[OrderLine, int | None], ...]]:
        """Return the open orders that can be counted on, and every open line with its place among them."""
        orders, lines = list[OrderGiven](), list[tuple[OrderLine, int | None]]()
        for line in self.lines.get(supply.id, ()):
            lead = self._lead(line.supplier_id, self._said(line))
            if line.pack_steps is None or not (lead.is_known or line.promised_on):
                lines.append((line, None))
                continue
            lines.append((line, len(orders)))
            elapsed = max(0, (self.today - parse_day(line.ordered_on).first).days)
            promised = None if not line.promised_on else (parse_day(line.promised_on).last - self.today).days
            orders.append(
                OrderGiven(line.open_packs * line.pack_steps, elapsed, lead, promised, keeps, line.supplier_id)
            )
        return orders, tuple(lines)

    def _said(self, line: OrderLine) -> int | None:
        """Return the longest lead time of the supplier's offers: nobody noted which of them was ordered."""
        days = [
            offer.lead_days
            for offer in self.offers.get(line.supply_id, ())
            if offer.supplier == line.supplier_id and offer.lead_days is not None
        ]
        return max(days) if days else self.suppliers[line.supplier_id].lead_days

    def expected(self, line: OrderLine) -> Expected | None:
        """Return when an open order comes: on the day named, else by the lead time; None where nobody knows."""
        named = parse_day(line.promised_on).last if line.promised_on else None
        lead = self._lead(line.supplier_id, self._said(line))
        return expected(parse_day(line.ordered_on).first, named, line.told_on or "", lead, self.today)

    # --- use -----------------------------------------------------------------------------------------------

    def _uses(
        self, supply: Supply, taught: SupplyLearnt
    ) -> tuple[list[AmountGiven], list[str], list[Use], tuple[str, ...]]:
        """Return the amounts of planned work with their procedures' names, the uses, and what nobody knows."""
        amounts, kinds, uses = list[AmountGiven](), list[str](), list[Use]()
        place: dict[int, int] = {}
        untold: dict[str, None] = {}
        for job, about, spread, chance in self.work_of(supply):
            known = taught.amounts.get(job.procedure_id)
            if known is None or (known.sheet is None and not known.uses):
                untold[job.procedure] = None
                continue
            if job.procedure_id not in place:
                place[job.procedure_id] = len(amounts)
                amounts.append(known)
                kinds.append(job.procedure)
            at = place[job.procedure_id]
            uses.append(Use(job.on, about, spread, chance, job.unit_id, job.tag, job.procedure_id, job.procedure, at))
        return amounts, kinds, uses, tuple(untold)

    def _waiting(
        self,
        held: Held,
        orders: Sequence[OrderGiven],
        chosen: Sequence[Offer],
        amounts: list[AmountGiven],
        kinds: list[str],
    ) -> tuple[list[Use], bool]:
        """Return the parts that units wait for as uses, and whether any has still to be ordered.

        What is on the shelf serves them today. What is late whatever is done, since it has to come first, is put where
        it is as good as sure to have come: it is bought, and does not make late what is not.
        """
        wants = self.wanted_of(held.supply)
        if not wants:
            return [], False
        piece = piece_steps(held.supply) or 1
        there = sum(lot.steps for lot in held.stock if lot.steps > 0 and usable(lot.as_lot(), self.today))
        coming = there + sum(order.steps for order in orders)
        leads = [order.lead for order in orders]
        leads += [self._lead(offer.supplier, offer.lead_days) for offer in chosen]
        longest = max((usual.mean for lead in leads if (usual := usual_days(lead)) is not None), default=0.0)
        later = self.today + timedelta(days=ceil(_SURELY * longest))
        at = len(amounts)
        amounts.append(AmountGiven(float(piece), spread=0.0, piece=piece))
        kinds.append("parts wanted")
        uses, taken = [], 0
        for want in sorted(wants, key=lambda part: (part.wanted_on, part.id)):
            for _ in range(want.pieces):
                taken += piece
                on = self.today if taken <= there else later
                uses.append(
                    Use(on, (on - self.today).days, 0.0, 1.0, want.unit_id, want.tag, None, f"wanted {want.part}", at)
                )
        return uses, taken > coming


def _by_supply(lines: Sequence[OrderLine]) -> dict[int, list[OrderLine]]:
    found: defaultdict[int, list[OrderLine]] = defaultdict(list)
    for line in lines:
        if line.open_packs:
            found[line.supply_id].append(line)
    return dict(found)


def _fits(sheet: SheetAmount | None, one: Work) -> bool:
    return sheet is None or not sheet.fits or not sheet.fits.isdisjoint(one.job.models)
