"""What the ledger of a supply teaches about its use: how much a use takes, and how often nobody planned it.

The model is that of `analysis/stock_plan`; here stands what it is fed with. What was undone or taken back is not among
the rows; what was booked by the sheet tells how often, never how much.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt
from typing import NamedTuple

from collection.analysis.stock_plan.given import SHEET_USES, AmountGiven, UnplannedGiven
from collection.analysis.use_amounts import EVENT, Seen, Spread, amount_given, pooled, seen_amounts, spread_of
from collection.analysis.use_bursts import with_bursts
from collection.analysis.use_counts import Counting, countings, drying_of, since_counts, unwritten
from collection.analysis.use_occasions import Key, LedgerRow, Occasion, SheetLine, occasions
from collection.analysis.use_rates import Rate, Watched, unplanned_given, watched
from collection.quantity import Day, parse_day


class ServiceDone(NamedTuple):
    """A service: its ISO day, its unit, and the procedures done in it."""

    on: str
    unit: int
    procedures: frozenset[int]


@dataclass(frozen=True, slots=True)
class SupplyLedger:
    """One supply and all that was booked on it, in ledger order, without what was undone or taken back.

    sheets: by procedure id. fits: ids of the units it is for, None for all. piece: steps of one piece, 0 for what is
    weighed or poured. guess: the answer to "about how many uses nobody planned a year?". written_since: the day from
    which every use has been written down, None for that of the first movement. stays: see `watched`.
    """

    rows: Sequence[LedgerRow]
    sheets: Mapping[int, SheetLine]
    fits: Collection[int] | None
    piece: int
    class_name: str
    guess: float | None
    written_since: date | None
    stays: Sequence[tuple[date, date | None]]


@dataclass(frozen=True, slots=True)
class RestsOn:
    """The facts that what was learnt of a supply rests on.

    measured: uses whose amount was weighed, counted or told; doubtful: those besides that the book had too little for
    and no count has followed, whose amounts teach nothing yet. by_sheet: uses booked by the sheet, which teach nothing
    about amounts by themselves. from_counts: those of them whose amount a later count told. events: uses that no
    schedule foresaw. since: the day from which every use is taken to be written down, None for a supply of which
    nothing was ever booked. unit_months: how long its units were watched since; units: how many there are now. prior:
    where the prior of events comes from, in the words of `use_rates`: SAID (a person guessed), NEVER (a person said
    none), CLASS (other supplies of class_name), BOOK (all supplies), NO_PRIOR.
    """

    measured: int
    doubtful: int
    by_sheet: int
    from_counts: int
    events: int
    since: date | None
    unit_months: float
    units: int
    prior: str
    class_name: str


class Unbooked(NamedTuple):
    """Steps that the shelf likely has less than the book, as the next count will show, and their standard deviation.

    uses: how many uses since the last count stand in the book by the sheet, though a use takes more than that.
    """

    steps: float = 0.0
    spread: float = 0.0
    uses: int = 0


@dataclass(frozen=True, slots=True)
class SupplyLearnt:
    """What the ledger teaches about the use of one counted supply; amounts in steps.

    amounts: by procedure id what one job takes, for every procedure whose sheet has the supply; under None what one
    event that nobody planned takes, missing where nothing tells. unplanned: events that no schedule foresees, its
    `amount` 0 until it has a place among the amounts given; None where a person said that there are none and none was
    booked; it may have no basis (`has_basis`). drying: steps a day that an open lot loses, and the standard deviation
    of that. unbooked: what the shelf has less than the book. counted_on: ISO day of the last count.
    """

    amounts: Mapping[int | None, AmountGiven]
    unplanned: UnplannedGiven | None
    drying: tuple[float, float]
    unbooked: Unbooked
    counted_on: str | None
    rests_on: RestsOn


@dataclass(frozen=True, slots=True)
class SupplyUses:
    """What was seen of the uses of one supply. Amounts in steps; amounts, spreads by procedure and under EVENT.

    since: from when uses are taken to be written down, None where nothing was ever booked. event_days: of the uses
    since then that no schedule foresaw. times: of procedures that take it sometimes only, services since then and those
    that took it.
    """

    found: Mapping[Key, Occasion]
    counts: Sequence[Counting]
    seen: Mapping[int | None, Sequence[Seen]]
    spreads: Mapping[int | None, Spread]
    drying: tuple[float, float]
    since: date | None
    event_days: Sequence[Day]
    times: Mapping[int, tuple[int, int]]
    watched: Watched

    @property
    def events(self) -> int:
        """How many uses no schedule foresaw."""
        return len(self.event_days)


def learn(
    ledgers: Mapping[int, SupplyLedger],
    services: Mapping[int, ServiceDone],
    foreseen: Collection[int],
    today: date,
) -> dict[int, SupplyLearnt]:
    """Return what the ledgers teach of each supply, by its id; see `read_uses` for what is given.

    Supplies teach one another what they had seen by the first day of the month: a use of today moves its own supply
    alone, and no other has to be projected anew for it.
    """
    uses = {key: read_uses(ledger, services, foreseen, today) for key, ledger in ledgers.items()}
    others = [_seen_by(today.replace(day=1), ledger, uses[key]) for key, ledger in ledgers.items()]
    found = {}
    for key, ledger in ledgers.items():
        own = Rate(uses[key].events, uses[key].watched, ledger.class_name, ledger.guess)
        unplanned, prior = unplanned_given(own, others)
        if unplanned is not None:
            # A day known only to its month or year says nothing of what came together.
            days = [on.first for on in uses[key].event_days if on.full]
            unplanned = with_bursts(unplanned, days, uses[key].watched.days, today)
        found[key] = _learnt(ledger, uses[key], unplanned, prior, today)
    return found


def _seen_by(day: date, ledger: SupplyLedger, uses: SupplyUses) -> Rate:
    """Return the events that a supply had seen before a day, in the time it was watched until then."""
    events = sum(on.first < day for on in uses.event_days)
    return Rate(events, watched(ledger.stays, uses.since or day, day), ledger.class_name, ledger.guess)


def read_uses(
    ledger: SupplyLedger, services: Mapping[int, ServiceDone], foreseen: Collection[int], today: date
) -> SupplyUses:
    """Return what is seen of the uses of one supply.

    services: all that stand, by id. foreseen: ids of the procedures that a schedule brings.
    """
    done = {key: service.procedures for key, service in services.items()}
    found = occasions(ledger.rows, ledger.sheets, done, foreseen)
    counts = countings(ledger.rows, found)
    dries = not ledger.piece
    drying = drying_of(counts) if dries else (0.0, 0.0)
    seen: dict[int | None, list[Seen]] = seen_amounts(found, counts, drying[0], ledger.sheets)
    taken = unwritten(counts, dries=dries)
    if taken:
        seen.setdefault(EVENT, []).extend(Seen(1.0, each.missing, alone=True, counted=True) for each in taken)
    since = _since(ledger)
    texts = [each.on for each in found.values() if not each.planned] + [each.on for each in taken]
    days = [parse_day(text) for text in texts]
    return SupplyUses(
        found=found,
        counts=counts,
        seen=seen,
        spreads={key: spread_of(each) for key, each in seen.items()},
        drying=drying,
        since=since,
        event_days=tuple(day for day in days if since is not None and day.first >= since),
        times=_times(ledger, services, found.values(), since),
        watched=watched(ledger.stays, since or today, today),
    )


def _since(ledger: SupplyLedger) -> date | None:
    if ledger.written_since is not None:
        return ledger.written_since
    return parse_day(ledger.rows[0].on).first if ledger.rows else None


def _times(
    ledger: SupplyLedger, services: Mapping[int, ServiceDone], found: Iterable[Occasion], since: date | None
) -> dict[int, tuple[int, int]]:
    """Return how often each procedure that takes the supply sometimes was done, and how often it took any."""
    sometimes = {number for number, line in ledger.sheets.items() if line.chance < 1}
    if not sometimes or since is None:
        return {}
    took = {(each.key[1], number) for each in found if each.key[0] == "service" for number in each.sheets}
    times = dict.fromkeys(sometimes, (0, 0))
    for key, service in services.items():
        fits = ledger.fits is None or service.unit in ledger.fits
        if not fits or parse_day(service.on).first < since:
            continue
        for number in service.procedures & sometimes:
            did, taken = times[number]
            times[number] = (did + 1, taken + ((key, number) in took))
    return times


def _learnt(
    ledger: SupplyLedger, uses: SupplyUses, unplanned: UnplannedGiven | None, prior: str, today: date
) -> SupplyLearnt:
    spread = pooled(each for key, each in uses.spreads.items() if key is not EVENT)
    amounts: dict[int | None, AmountGiven] = {
        key: amount_given(line, uses.seen.get(key, ()), spread, uses.times.get(key, (0, 0)), ledger.piece)
        for key, line in ledger.sheets.items()
    }
    event = _event_amount(ledger, uses)
    if event is not None:
        amounts[EVENT] = event
    told = sum(each.told for each in uses.found.values())
    return SupplyLearnt(
        amounts=amounts,
        unplanned=unplanned,
        drying=uses.drying,
        unbooked=_unbooked(ledger, uses, amounts, today),
        counted_on=max((row.on for row in ledger.rows if row.kind == "count"), default=None),
        rests_on=RestsOn(
            measured=sum(each.teaches for each in uses.found.values()),
            doubtful=sum(each.told and each.doubtful for each in uses.found.values()),
            by_sheet=len(uses.found) - told,
            from_counts=len({key for each in uses.counts for key in each.by_sheet}),
            events=uses.events,
            since=uses.since,
            unit_months=uses.watched.unit_months,
            units=uses.watched.units,
            prior=prior,
            class_name=ledger.class_name,
        ),
    )


def _unbooked(
    ledger: SupplyLedger, uses: SupplyUses, amounts: Mapping[int | None, AmountGiven], today: date
) -> Unbooked:
    """Return what uses by the sheet took besides, by what such uses really take, and what has dried since the count.

    Uses that take less than their sheet leave more than the book has; that is not counted on.
    """
    pending = since_counts(ledger.rows, uses.found, today.isoformat())
    steps, squares, counted = 0.0, 0.0, 0
    for key, taken in pending.by_sheet.items():
        occasion = uses.found[key]
        known = [amounts[number] for number in occasion.sheets if amounts[number].uses]
        means = [(each.total + SHEET_USES * (each.sheet or 0.0)) / (each.uses + SHEET_USES) for each in known]
        if len(known) == len(occasion.sheets) and known:
            steps += (sum(means) - occasion.steps) * taken / occasion.steps
            squares += sum((each.spread * mean) ** 2 for each, mean in zip(known, means, strict=True))
            counted += 1
    rate, spread = uses.drying
    steps += rate * pending.open_days
    return Unbooked(steps, sqrt(squares + (spread * pending.open_days) ** 2), counted) if steps > 0 else Unbooked()


def _event_amount(ledger: SupplyLedger, uses: SupplyUses) -> AmountGiven | None:
    """Return what one event takes, None where nothing tells.

    Where no event was weighed, what was booked for events by the sheet stands for it, else what the sheets have, else
    one piece, else what was booked beyond the stock.
    """
    seen = uses.seen.get(EVENT, ())
    events = [each for each in uses.found.values() if not each.planned]
    sheets = [line.steps for line in ledger.sheets.values() if line.steps] or [ledger.piece] * (ledger.piece > 0)
    lines = [each.steps for each in events if not each.told] or sheets or [each.steps for each in events]
    sheet = sum(lines) / len(lines) if lines else None
    if sheet is None and not seen:
        return None
    spread = uses.spreads.get(EVENT, Spread(None, 0.0))
    return amount_given(SheetLine(0, 1.0), seen, spread, (0, 0), ledger.piece)._replace(sheet=sheet)
