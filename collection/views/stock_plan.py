"""What to buy and by when: every supply's projection with the names, days and money of the book."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from math import ceil

from sqlalchemy.engine import Connection

from collection.analysis.expected_use import Expected, by_month, mean_use, unplanned_a_month, whole_needs
from collection.analysis.netting import Arrival, Need, Netting, net_by_day
from collection.analysis.stock_plan.found import FINE, ORDER_NOW, STATES, TOO_LATE, UNKNOWN, Candidate, PlanFound
from collection.analysis.stock_plan.given import HORIZON, SupplyGiven
from collection.analysis.take_order import usable
from collection.errors import fold
from collection.quantity import Money
from collection.views.drawer import Held
from collection.views.due import Rechecks
from collection.views.stock_by_pack import row_by_pack, row_untracked
from collection.views.stock_counts import CountSaid, counts_said
from collection.views.stock_given import Gathered, Source
from collection.views.stock_rows import (
    Choice,
    NamedAmount,
    Planned,
    PlannedJob,
    PlannedLot,
    PlannedOrder,
    StockList,
    StockRow,
)
from collection.views.stock_words import Basis, ask, in_short, rests_on
from collection.views.supplies import find_supply

PlanOf = Callable[[SupplyGiven], PlanFound]
_LIKELY_HELD = 0.05  # chance from which on work is said to be held up, where the promise is the usual one
_UNPLANNED = "use nobody planned"


def stock_plan(
    conn: Connection, today: date, name: str | None = None, *, rechecks: Rechecks | None = None, plan: PlanOf
) -> StockList:
    """Return what to buy for every supply that is held or needed, or for the one of this name.

    plan: `plan_supply`, or what keeps its results. rechecks: by unit, for what their settings take. Raises Refused for
    an unknown supply.
    """
    only = None if name is None else find_supply(conn, name).id
    source = Source(conn, today, rechecks)
    counted = counts_said(conn, today.isoformat())
    rows, not_listed = list[StockRow](), 0
    for held in source.drawer:
        if only not in (None, held.supply.id) or (only is None and held.supply.tracked == "no"):
            continue
        if only is None and not _concerns(source, held):
            not_listed += 1
        elif held.supply.tracked == "no":
            rows.append(row_untracked(source, held))
        elif held.supply.tracked == "pack":
            rows.append(row_by_pack(source, held))
        else:
            rows.append(_row_by_count(source, held, counted.get(held.supply.id, CountSaid()), plan))
    loose = tuple(part for part in source.wanted if part.supply_id is None) if only is None else ()
    until = today + timedelta(days=HORIZON)
    return StockList(today, until, tuple(sorted(rows, key=_urgency)), loose, source.planned.no_history, not_listed)


def _concerns(source: Source, held: Held) -> bool:
    """Say whether a supply is one to speak of: held once, on order, wanted, or taken by planned work."""
    supply = held.supply
    return bool(held.moved or source.lines.get(supply.id) or source.wanted_of(supply) or source.work_of(supply))


def _urgency(row: StockRow) -> tuple[int, date, date, str]:
    last = date.max
    return STATES.index(row.state), row.order_by or last, row.needed_by or last, fold(row.supply.name)


# --- a supply whose amounts are counted --------------------------------------------------------------------


def _row_by_count(source: Source, held: Held, counted: CountSaid, plan: PlanOf) -> StockRow:
    gathered = source.gather(held)
    found = plan(gathered.given)
    netting, events = _netting(source, gathered, found)
    state = state_of(gathered, found)
    basis = Basis(source, gathered, found, netting, counted, state)
    planned = _named(source, gathered, found, netting, events, counted)
    choice = _bought(planned, found, state)
    shipping = None
    if choice is not None and found.chosen is not None:
        shipping = Money(gathered.given.offers[found.candidates[found.chosen].offer].shipping, choice.cost.currency)
    return StockRow(
        supply=held.supply,
        state=state,
        order_by=_order_by(source.today, found, state),
        needed_by=netting.first_short,
        packs=_packs(choice, found, state),
        steps=choice.steps if choice is not None else _lacking(found, state),
        supplier=None if choice is None else choice.supplier,
        cost=None if choice is None else choice.cost,
        shipping=shipping,
        chance_short=_chance_short(found, gathered.given.paths),
        on_hand=found.on_hand,
        on_order=sum(line.open_packs * (line.pack_steps or 0) for line, _ in gathered.lines),
        planned=found.planned,
        unplanned=found.unplanned,
        held_up=() if state == FINE else _held_up(planned, 1 - gathered.given.wanted),
        wanted=tuple(f"{part.tag}: {part.part}" for part in gathered.wanted),
        rests_on=rests_on(basis),
        in_short=in_short(basis),
        ask="" if state == FINE and not gathered.untold else ask(basis),
        plan=planned,
    )


def state_of(gathered: Gathered, found: PlanFound) -> str:
    """Return the state of a supply: that of its projection, unless the book knows better.

    A part that a unit waits for and nobody has ordered is to be ordered now. Nothing is fine where planned work takes
    what nobody knows, or where nothing at all tells of its use.
    """
    if gathered.waiting and found.state != TOO_LATE:
        return ORDER_NOW
    if found.state == FINE and (gathered.untold or _knows_nothing(gathered)):
        return UNKNOWN
    return found.state


def _knows_nothing(gathered: Gathered) -> bool:
    """Say whether neither planned work nor any basis tells of use, and no person said that there is none."""
    unplanned = gathered.given.unplanned
    told = unplanned is not None and unplanned.has_basis
    return not gathered.uses and not told and gathered.learnt.unplanned is not None


def _order_by(today: date, found: PlanFound, state: str) -> date | None:
    if state == ORDER_NOW:
        return today if found.lead is not None else None
    if state in (FINE, UNKNOWN) or found.order_by is None:
        return None
    return today + timedelta(days=found.order_by)


def _packs(choice: Choice | None, found: PlanFound, state: str) -> int | None:
    """Return the packs to buy; None where nobody offers it or nothing tells how many."""
    if choice is not None:
        return choice.packs
    return 0 if state == FINE or found.has_enough_coming else None


def _bought(planned: Planned, found: PlanFound, state: str) -> Choice | None:
    if state == FINE or found.chosen is None:
        return None
    return planned.choices[found.chosen]


def _lacking(found: PlanFound, state: str) -> int:
    """Return the steps for a shopping list: what has to come for the promise to be kept."""
    return 0 if state == FINE or found.has_enough_coming else ceil(found.lacking - 1e-9)


def _chance_short(found: PlanFound, paths: int) -> float | None:
    """Return the chance, kept off 0 and 1: so many paths tell no more than half of one of them."""
    chance = found.run_out.chance if found.short_before is None else found.short_before
    return (chance * paths + 0.5) / (paths + 1)


def _held_up(planned: Planned, accepted: float) -> tuple[PlannedJob, ...]:
    least = max(accepted, _LIKELY_HELD)
    return tuple(job for job in planned.jobs if job.held_up > least and job.on <= planned.until)


# --- the table by day --------------------------------------------------------------------------------------


def _netting(source: Source, gathered: Gathered, found: PlanFound) -> tuple[Netting, Mapping[date, Sequence[str]]]:
    """Return the table of expected amounts within the days told about, and what happens on each of its days."""
    today, given = source.today, gathered.given
    until = today + timedelta(days=HORIZON)
    means = [mean_use(known) or 0.0 for known in given.amounts]
    expected = [
        Expected(use.on, means[use.amount] * use.chance, f"{use.tag}: {use.words}")
        for use in gathered.uses
        if use.on <= until
    ]
    if given.unplanned is not None:
        a_month = unplanned_a_month(given.unplanned, given.amounts[given.unplanned.amount])
        if a_month:
            expected += by_month(a_month, today, HORIZON, _UNPLANNED)
    arrivals = _arrivals(source, gathered, found, until)
    needs = whole_needs(expected)
    return net_by_day(needs, [lot.as_lot() for lot in gathered.lots], arrivals, today), _events(needs, arrivals, today)


def _arrivals(source: Source, gathered: Gathered, found: PlanFound, until: date) -> list[Arrival]:
    """Return when open orders that are counted on are expected; one that is late but may still come, today."""
    arrivals = []
    for line, place in gathered.lines:
        coming = source.expected(line)
        if place is not None and place not in found.overdue and coming is not None and coming.on <= until:
            arrivals.append(Arrival(coming.on, gathered.given.orders[place].steps, line.order))
    return arrivals


def _events(needs: Sequence[Need], arrivals: Sequence[Arrival], today: date) -> dict[date, list[str]]:
    events: dict[date, list[str]] = {}
    for need in needs:
        events.setdefault(max(need.on, today), []).append(need.why)
    for arrival in arrivals:
        events.setdefault(arrival.on, []).append(f'order "{arrival.why}" arrives')
    return events


# --- names -------------------------------------------------------------------------------------------------


def _named(
    source: Source,
    gathered: Gathered,
    found: PlanFound,
    netting: Netting,
    events: Mapping[date, Sequence[str]],
    counted: CountSaid,
) -> Planned:
    given, today = gathered.given, source.today
    means = [mean_use(known) or 0.0 for known in given.amounts]
    jobs = tuple(
        PlannedJob(use.on, use.spread, use.chance, use.unit_id, use.tag, use.procedure_id, use.words, mean, held_up)
        for use, held_up in zip(gathered.uses, found.held_up, strict=True)
        for mean in (means[use.amount],)
    )
    lots = tuple(
        PlannedLot(
            "" if lot.lot is None else lot.lot.name,
            lot.steps,
            lot.opened_on,
            lot.usable.through,
            lot.usable.because,
            lot.steps > 0 and usable(lot.as_lot(), today),
            waste,
        )
        for lot, waste in zip(gathered.lots, found.waste, strict=True)
    )
    orders = tuple(
        PlannedOrder(
            line,
            None if line.pack_steps is None else line.open_packs * line.pack_steps,
            bool(line.promised_on),
            None if coming is None else coming.on,
            place is not None and place not in found.overdue,
            place in found.overdue,
        )
        for line, place in gathered.lines
        for coming in (source.expected(line),)
    )
    return Planned(
        today=today,
        until=today + timedelta(days=HORIZON),
        given=given,
        found=found,
        lots=lots,
        jobs=jobs,
        amounts=tuple(map(NamedAmount, gathered.kinds, given.amounts)),
        orders=orders,
        choices=tuple(_choice(source, gathered, found, place) for place in range(len(found.candidates))),
        netting=netting,
        events=events,
        counted_on=counted.day,
    )


def _choice(source: Source, gathered: Gathered, found: PlanFound, place: int) -> Choice:
    one: Candidate = found.candidates[place]
    offer = gathered.offers[one.offer]
    return Choice(
        supplier=source.suppliers[offer.supplier].name,
        packs=one.packs,
        steps=one.steps,
        cost=Money(one.cost, offer.currency),
        lasts=None if one.lasts is None else source.today + timedelta(days=one.lasts),
        chance_short=one.chance_short,
        waste=one.waste,
        per_day=one.per_day,
        keeps_promise=one.keeps_promise,
        chosen=place == found.chosen,
    )
