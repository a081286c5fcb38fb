"""What to buy and by when: due work set against the drawer, open orders and lead times, one row per supply."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy.engine import Connection

from collection.analysis.netting import (
    FINE,
    ORDER_BY,
    ORDER_NOW,
    TOO_LATE,
    UNKNOWN,
    Advice,
    Arrival,
    Need,
    Netting,
    advise,
    advise_without_amounts,
    net_by_day,
)
from collection.analysis.offers import Offer, Quote, choose_offer
from collection.analysis.take_order import usable
from collection.errors import fold
from collection.quantity import Money, parse_day, to_steps
from collection.store.book import open_book
from collection.views.drawer import Held, drawer
from collection.views.needs import Needs, needs_of_due_work
from collection.views.orders import OrderLine, Supplier, offers, order_lines, suppliers
from collection.views.supplies import Supply, find_supply
from collection.views.wanted import WantedPart, open_wants

HORIZON_DAYS = 365
_URGENCY = (TOO_LATE, ORDER_NOW, ORDER_BY, UNKNOWN, FINE)


@dataclass(frozen=True, slots=True)
class ReorderRow:
    """What to do about one supply. Amounts in steps.

    on_hand: within its date; needed: by the horizon; needed_by: the first day that is short; packs and supplier None
    while nobody offers it; held_up: the work that stock and orders cannot serve; too_late: the part of it that even an
    order placed today cannot; wanted: the parts that units wait for, as "D4: belt"; rests_on: sentences. netting is
    None for a supply tracked by the pack; events: what happens on each day of the netting.
    """

    supply: Supply
    state: str
    order_by: date | None
    needed_by: date | None
    packs: int | None
    steps: int
    supplier: str | None
    cost: Money | None
    on_hand: int
    on_order: int
    needed: int
    held_up: tuple[Need, ...]
    too_late: tuple[Need, ...]
    wanted: tuple[str, ...]
    rests_on: tuple[str, ...]
    netting: Netting | None
    events: Mapping[date, Sequence[str]]


@dataclass(frozen=True, slots=True)
class Reorder:
    """The rows, most urgent first; no_history: units of which nobody knows what is due.

    loose: parts wanted that are no supply of the book.
    """

    until: date
    rows: tuple[ReorderRow, ...]
    loose: tuple[WantedPart, ...]
    no_history: int


def reorder(conn: Connection, today: date, within_days: int = HORIZON_DAYS, name: str | None = None) -> Reorder:
    """Return what to buy for the work due within so many days, for every supply needed or for one.

    Raises Refused for an unknown supply and a horizon outside 0 to a hundred years.
    """
    only = None if name is None else find_supply(conn, name).id
    plan = _Plan(conn, today, within_days)
    rows = [
        row
        for held in drawer(conn, today)
        if only in (None, held.supply.id) and (row := plan.row(held, asked=only is not None)) is not None
    ]
    loose = tuple(part for part in plan.wanted if part.supply_id is None) if only is None else ()
    return Reorder(plan.needs.until, tuple(sorted(rows, key=_urgency)), loose, plan.needs.no_history)


def _urgency(row: ReorderRow) -> tuple[int, date, date, str]:
    last = date.max
    return _URGENCY.index(row.state), row.order_by or last, row.needed_by or last, fold(row.supply.name)


class _Plan:
    """What is read once for all supplies."""

    def __init__(self, conn: Connection, today: date, within_days: int) -> None:
        self.today = today
        self.needs: Needs = needs_of_due_work(conn, today, within_days)
        self.offers: Mapping[int, Sequence[Offer]] = offers(conn)
        self.suppliers: Mapping[int, Supplier] = suppliers(conn)
        self.lines = [line for line in order_lines(conn) if line.open_packs]
        self.currency = open_book(conn).settings.currency
        self.wanted = open_wants(conn)

    def row(self, held: Held, *, asked: bool) -> ReorderRow | None:
        """Return the row of a supply; None for one that nobody needs, unless it was asked for."""
        supply = held.supply
        needed = [*self._wanted_needs(supply), *self.needs.of_supply.get(supply.id, [])]
        if supply.tracked == "no":
            says = "not tracked: it is never on the list"
            return self._made(held, Advice(FINE), None, needed, [], [says]) if asked else None
        if supply.tracked == "pack":
            return self._by_pack(held, needed) if needed or held.moved or asked else None
        return self._by_count(held, needed) if needed or asked else None

    def _wanted_of(self, supply: Supply) -> list[WantedPart]:
        return [part for part in self.wanted if part.supply_id == supply.id]

    def _wanted_needs(self, supply: Supply) -> list[Need]:
        """Return the parts that units wait for as needs of the first day by which an order could bring them."""
        leads = [offer.lead_days or 0 for offer in self.offers.get(supply.id, ())]
        expected = [day for line in self._lines(supply) if (day := self._expected(line)) is not None]
        on = max([self.today, self.today + timedelta(days=max(leads, default=0)), *expected])
        parts = [(part, Decimal(part.pieces)) for part in self._wanted_of(supply)]
        return [
            Need(on, to_steps(pieces, "piece", supply.measured_in, supply.step), f"{part.tag}: wanted {part.part}")
            for part, pieces in parts
        ]

    def _by_count(self, held: Held, needed: list[Need]) -> ReorderRow:
        """Return the row of a supply whose amounts are counted: the netting table and what follows from it."""
        supply, lines = held.supply, self._lines(held.supply)
        arrivals, said = self._arrivals(lines)
        netting = net_by_day(needed, [lot.as_lot() for lot in held.stock], arrivals, self.today)
        quote = self._quote(supply, netting.short)
        lead = None if quote is None else quote.offer.lead_days
        if quote is None:
            advice = advise(netting, self.today, None)
        else:
            advice = advise(netting, self.today, lead, quote.offer.pack_steps, quote.packs)
        rests_on = [
            *self._work_words(self.needs.of_supply.get(supply.id, [])),
            *self._wanted_words(supply),
            *self._lead_words(quote, advice),
            *said,
            *self._drawer_words(held, netting),
        ]
        return self._made(held, advice, quote, needed, lines, rests_on, netting, arrivals)

    def _by_pack(self, held: Held, needed: list[Need]) -> ReorderRow:
        """Return the row of a supply of which only packs are told: buy when the last one is opened."""
        supply, lines = held.supply, self._lines(held.supply)
        unopened = held.unopened_on(self.today)
        wanted = 1 if unopened == 0 or self._wanted_of(supply) else 0
        quote = self._quote(supply, wanted)
        pack, least = (quote.offer.pack_steps, quote.packs) if quote is not None else (1, 1)
        advice = advise_without_amounts("pack", unopened, sum(line.open_packs for line in lines), pack, least)
        if quote is None and advice.state != FINE:
            advice = Advice(advice.state, None, 1, 0)
        opened = sum(lot.steps > 0 and lot.opened_on is not None for lot in held.lots)
        says = f"tracked by the pack: {unopened} unopened, {opened} opened; bought when the last one is opened"
        coming = [self._line_words(line, None) for line in lines]
        return self._made(held, advice, quote, needed, lines, [says, *self._wanted_words(supply), *coming])

    def _made(
        self,
        held: Held,
        advice: Advice,
        quote: Quote | None,
        needed: Sequence[Need],
        lines: Sequence[OrderLine],
        rests_on: Sequence[str],
        netting: Netting | None = None,
        arrivals: Sequence[Arrival] = (),
    ) -> ReorderRow:
        buys = advice.steps > 0 and quote is not None
        return ReorderRow(
            supply=held.supply,
            state=advice.state,
            order_by=advice.order_by,
            needed_by=None if netting is None else netting.first_short,
            packs=advice.packs,
            steps=advice.steps,
            supplier=self.suppliers[quote.offer.supplier].name if quote is not None and buys else None,
            cost=Money(quote.total_minor, quote.offer.currency) if quote is not None and buys else None,
            on_hand=max(0, held.usable_on(self.today)),
            on_order=sum(line.open_packs * (line.pack_steps or 0) for line in lines),
            needed=sum(need.steps for need in needed),
            held_up=() if netting is None else netting.held_up,
            too_late=advice.too_late,
            wanted=tuple(f"{part.tag}: {part.part}" for part in self._wanted_of(held.supply)),
            rests_on=tuple(rests_on),
            netting=netting,
            events=self._events(needed, arrivals),
        )

    def _events(self, needed: Sequence[Need], arrivals: Sequence[Arrival]) -> dict[date, list[str]]:
        """Return what happens on each day: the work, and the orders that arrive."""
        events: dict[date, list[str]] = {}
        for need in needed:
            events.setdefault(max(need.on, self.today), []).append(need.why)
        for arrival in arrivals:
            if arrival.on >= self.today:
                events.setdefault(arrival.on, []).append(f'order "{arrival.why}" arrives')
        return events

    def _lines(self, supply: Supply) -> list[OrderLine]:
        return [line for line in self.lines if line.supply_id == supply.id]

    def _quote(self, supply: Supply, steps: int) -> Quote | None:
        """Return the cheapest offer, in the book's currency where there is one, else in the first other."""
        listed = self.offers.get(supply.id, ())
        currencies = sorted({offer.currency for offer in listed}, key=lambda code: (code != self.currency, code))
        return choose_offer(steps, listed, currencies[0]) if currencies else None

    def _arrivals(self, lines: Sequence[OrderLine]) -> tuple[list[Arrival], list[str]]:
        """Return what open orders will bring, and what to say of each; without a lead time nothing is counted."""
        arrivals, said = [], []
        for line in lines:
            expected = self._expected(line)
            if expected is not None and line.pack_steps is not None:
                arrivals.append(Arrival(expected, line.open_packs * line.pack_steps, line.order))
            said.append(self._line_words(line, expected))
        return arrivals, said

    def _expected(self, line: OrderLine) -> date | None:
        """Return the day an order is expected: the day it was placed and the lead time; None without one."""
        days = [
            offer.lead_days
            for offer in self.offers.get(line.supply_id, ())
            if offer.supplier == line.supplier_id and offer.lead_days is not None
        ]
        lead = max(days) if days else self.suppliers[line.supplier_id].lead_days
        return None if lead is None else parse_day(line.ordered_on).first + timedelta(days=lead)

    def _line_words(self, line: OrderLine, expected: date | None) -> str:
        head = f'order "{line.order}" of {line.ordered_on}: {_packs(line.open_packs)}'
        if line.pack_steps is None:
            return f"{head}, not counted: nobody told how much a pack holds"
        if expected is None:
            return f"{head}, not counted: no lead time, so nobody knows when it comes"
        if expected < self.today:
            return f"{head}, expected {expected} and overdue: not counted, ask the supplier"
        return f"{head}, expected {expected}"

    def _work_words(self, needed: Sequence[Need]) -> Iterator[str]:
        tags = {need.why.split(":")[0] for need in needed}
        if needed:
            units = "1 unit" if len(tags) == 1 else f"{len(tags)} units"
            services = "1 procedure" if len(needed) == 1 else f"{len(needed)} procedures"
            yield f"{services} due on {units} by {self.needs.until}, amounts by their sheets"
        else:
            yield f"no work due by {self.needs.until} takes any"

    def _wanted_words(self, supply: Supply) -> Iterator[str]:
        for part in self._wanted_of(supply):
            yield f"{part.pieces} x wanted for {part.tag} since {part.wanted_on} ({part.part})"

    def _lead_words(self, quote: Quote | None, advice: Advice) -> Iterator[str]:
        if advice.state == FINE:
            return
        if quote is None:
            yield "nobody offers it: with an offer there would be packs, a price and a day to order by"
        elif quote.offer.lead_days is None:
            name = self.suppliers[quote.offer.supplier].name
            yield f'no lead time of "{name}": it would help most to know how many days an order takes'
        else:
            yield f"lead time {quote.offer.lead_days} days, as the supplier says"
        if quote is not None and quote.offer.shipping_minor:
            shipping = Money(quote.offer.shipping_minor, quote.offer.currency)
            yield f"{shipping.text} {shipping.currency} of the cost is shipping, once an order"
        if quote is not None and quote.offer.currency != self.currency:
            yield f"offered in {quote.offer.currency} only"

    def _drawer_words(self, held: Held, netting: Netting) -> Iterator[str]:
        show = held.supply.show
        past = sum(lot.steps for lot in held.stock if lot.steps > 0 and not usable(lot.as_lot(), self.today))
        if past:
            yield f"{show(past)} past its date: not counted"
        expires = sum(row.expired for row in netting.rows)
        if expires:
            yield f"{show(expires)} will pass its date before it is needed"
        if netting.entries_missing:
            yield "the book is below zero: entries are missing, please count"


def _packs(number: int) -> str:
    return "1 pack" if number == 1 else f"{number} packs"
