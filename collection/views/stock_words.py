"""What a row of the stock plan rests on, in sentences: uses, counts, lots, orders, and what is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from collection.analysis.netting import Netting
from collection.analysis.stock_plan.found import FINE, PlanFound
from collection.analysis.stock_plan.given import SHEET_USES, AmountGiven
from collection.analysis.take_order import usable
from collection.analysis.use_rates import BOOK, CLASS, SAID
from collection.analysis.work_days import Habit
from collection.errors import typed
from collection.quantity import show_amount, show_day
from collection.views.orders import OrderLine
from collection.views.stock_counts import CountSaid
from collection.views.stock_given import Gathered, Source
from collection.views.supplies import Supply
from collection.views.wanted import WantedPart

_MOST_KINDS = 3  # procedures told one by one
_TOLD_DAYS = 14  # a habit of working so far from the due day is told
_PRIOR = {
    SAID: ", with your guess counted in",
    CLASS: ", with how often others of its class ({}) are used counted in",
    BOOK: ", with how often other supplies are used counted in",
}

ShowDay = Callable[[str], str]


class Basis(NamedTuple):
    """All that the sentences are made from."""

    source: Source
    gathered: Gathered
    found: PlanFound
    netting: Netting
    counted: CountSaid
    state: str

    @property
    def supply(self) -> Supply:
        """The supply that the row is of."""
        return self.gathered.held.supply


def rests_on(basis: Basis) -> tuple[str, ...]:
    """Return the sentences, each without a full stop; days in the book's own form."""
    form = basis.source.settings.date_form

    def day(text: str) -> str:
        return show_day(text, form)

    gathered = basis.gathered
    return (
        *_work_words(basis),
        *_untold_words(gathered),
        *_unplanned_words(gathered, day),
        *wanted_words(gathered.wanted, day),
        *_count_words(basis, day),
        *_lot_words(basis, day),
        *(order_words(basis, line, place, day) for line, place in gathered.lines),
        *_offer_words(basis),
    )


def in_short(basis: Basis) -> str:
    """Return in one clause what the row rests on: "93 uses written down, counted on 9 Nov 2026"."""
    given = basis.gathered.given
    uses = sum(known.uses for known, kind in zip(given.amounts, basis.gathered.kinds, strict=True) if kind)
    uses += 0 if given.unplanned is None else given.unplanned.events
    told = (
        f"{_uses(uses)} written down" if uses else "the sheets alone" if basis.gathered.uses else "no use written down"
    )
    form = basis.source.settings.date_form
    return f"{told}, {f'counted on {show_day(basis.counted.day, form)}' if basis.counted.day else 'never counted'}"


def ask(basis: Basis) -> str:
    """Return the one fact that would help most, "" where none is missing."""
    gathered, found = basis.gathered, basis.found
    if found.entries_missing:
        return "a count: entries are missing"
    if gathered.untold:
        return f'how much "{gathered.untold[0]}" takes'
    if not gathered.offers:
        return "an offer: who sells it, in what packs, and how long it takes"
    if found.lead is None:
        return "the lead time in days"
    unplanned = gathered.given.unplanned
    if gathered.learnt.unplanned is not None and (unplanned is None or not unplanned.has_basis):
        return "about how many uses a year nobody planned"
    return ""


# --- use ---------------------------------------------------------------------------------------------------


def _work_words(basis: Basis) -> Iterator[str]:
    gathered, habits = basis.gathered, basis.source.planned.habits
    kinds = {use.amount: use.procedure_id for use in gathered.uses if use.procedure_id is not None}
    if not kinds:
        yield "no planned work takes any"
        return
    known = gathered.given.amounts
    if len(kinds) <= _MOST_KINDS:
        for place, procedure in kinds.items():
            habit = habits.get(procedure)
            yield f"{gathered.kinds[place]}: {_amount_words(basis.supply, known[place])}{_habit_words(habit)}"
    else:
        told = sum(known[place].uses for place in kinds)
        yield f"{len(kinds)} procedures: {_uses(told)} written down, the amount of each sheet counted as 2 more"
    if any(procedure not in habits for procedure in kinds.values()):
        yield "work is taken to be done within a fortnight of its day where fewer than 8 repeats tell"
    years = gathered.given.work_days
    if any(day.units > 1 for year in years for day in year):
        past = "of the past year" if len(years) == 1 else f"of {len(years)} past years"
        yield f"often several units are worked on in one day: the days of work {past} stand for those to come"


def _amount_words(supply: Supply, known: AmountGiven) -> str:
    """Return "6 uses written down, the sheet's 3 g counted as 2 more"."""
    told = f"{_uses(known.uses)} written down"
    if known.sheet is None:
        return f"{told}, none on its sheet"
    sheet = f"the sheet's {show_amount(round(known.sheet), supply.step, supply.measured_in)}"
    said = f"{told}, {sheet} counted as {SHEET_USES} more" if known.uses else f"no use written down yet, {sheet}"
    taken = f", taken in {known.taken} of {known.times}" if known.times else ""
    return f"{said}{taken or (f', {known.chance * 100:g} times in 100' if known.chance < 1 else '')}"


def _uses(number: float) -> str:
    """Return "6 uses"; what counts tell is no whole number of uses."""
    whole = round(number)
    said = "no use" if not number else "1 use" if whole == 1 else f"{whole} uses"
    return said if number == whole else f"about {said}"


def _habit_words(habit: Habit | None) -> str:
    """Return how far from its day the work is done, where that is not about the day itself."""
    if habit is None or abs(habit.shift) < _TOLD_DAYS:
        return ""
    side = "before" if habit.shift < 0 else "after"
    return f"; done about {abs(habit.shift):.0f} days {side} it is due, as {habit.of} times so far"


def _untold_words(gathered: Gathered) -> Iterator[str]:
    for procedure in gathered.untold:
        yield f'no amount on the sheet of "{procedure}" and no use of it written down: what it takes is not in the sum'


def _unplanned_words(gathered: Gathered, day: ShowDay) -> Iterator[str]:
    taught, given = gathered.learnt, gathered.given.unplanned
    facts = taught.rests_on
    if taught.unplanned is None:
        yield "nobody uses it unplanned, as you said"
    elif given is None or not given.has_basis:
        name = gathered.held.supply.name
        yield (
            "nothing is known of use that nobody planned: it is not in the sum. About how many a year? "
            f"Type: spindlebook supply edit {typed(name)} --guess-a-year NUMBER"
        )
    else:
        events = "no use" if not given.events else f"{given.events} uses" if given.events > 1 else "1 use"
        since = f" since {day(facts.since.isoformat())}" if facts.since else ""
        units = f" on {facts.units} units" if facts.units > 1 else ""
        yield f"unplanned: {events} written down{since}{units}{_PRIOR.get(facts.prior, '').format(facts.class_name)}"
        more = round(10 * given.follows)
        if more:
            follow = "1 more follows" if more == 1 else f"{more} more follow"
            yield f"they come together: about {follow} 10 such uses within a month than by chance alone"


def wanted_words(parts: Iterable[WantedPart], day: ShowDay) -> Iterator[str]:
    """Yield who waits for the supply."""
    for part in parts:
        yield f"{part.pieces} x wanted for {part.tag} since {day(part.wanted_on)} ({part.part})"


# --- the drawer --------------------------------------------------------------------------------------------


def _count_words(basis: Basis, day: ShowDay) -> Iterator[str]:
    counted, show = basis.counted, basis.supply.show
    if basis.found.entries_missing:
        yield f'the book is below zero: entries are missing, please count: supply count "{basis.supply.name}" QUANTITY'
    if counted.day:
        yield f"counted on {day(counted.day)}"
    doubtful = basis.gathered.learnt.rests_on.doubtful
    if doubtful:
        more = "1 use is" if doubtful == 1 else f"{doubtful} uses are"
        yield f"{more} of more than the book had: the amount teaches nothing until a count"
    less = basis.gathered.learnt.unbooked
    if round(less.steps):
        uses = f": {_uses(less.uses)} since then stand there by the sheet" if less.uses else ": it dries"
        yield f"about {show(round(less.steps))} less on the shelf than the book says{uses}; a count would tell"
    if counted.more > 0:
        yield f"that count found {show(counted.more)} more than the book had: what came in was not all written down"
    for one, other in counted.contradicting:
        yield (
            f"counted as {show(one)} and as {show(other)} on {day(counted.day)}: "
            "the later entry holds, please count again"
        )


def _lot_words(basis: Basis, day: ShowDay) -> Iterator[str]:
    supply, today = basis.supply, basis.source.today
    past = sum(
        lot.steps for lot in basis.gathered.held.stock if lot.steps > 0 and not usable(lot.as_lot(), today)
    )  # fmt: skip
    if past:
        yield f"{supply.show(past)} past its date: not counted, inspect or discard"
    opened = [
        lot
        for lot in basis.gathered.lots
        if lot.steps > 0 and lot.opened_on is not None and usable(lot.as_lot(), today)
    ]
    for lot in opened[:1]:
        until = f", good until {day(lot.usable.through.isoformat())}" if lot.usable.through else ""
        more = f" and {len(opened) - 1} more" if len(opened) > 1 else ""
        yield f"opened lot of {supply.show(lot.steps)}{until}{more}"
    expires = sum(row.expired for row in basis.netting.rows)
    if expires:
        yield f"{supply.show(expires)} will pass its date before it is needed"


# --- orders and offers -------------------------------------------------------------------------------------


def order_words(basis: Basis, line: OrderLine, place: int | None, day: ShowDay) -> str:
    """Return what an open order brings, or why it is not counted on."""
    packs = "1 pack" if line.open_packs == 1 else f"{line.open_packs} packs"
    head = f'order "{line.order}" of {day(line.ordered_on)}: {packs}'
    if line.arrived > line.packs:
        head += f", though {line.arrived} of {line.packs} came: was a lot written down twice?"
    if line.pack_steps is None:
        return f"{head}, not counted: nobody told how much a pack holds"
    if place is None:
        return f"{head}, not counted: no lead time, so nobody knows when it comes"
    coming = basis.source.expected(line)
    on = "" if coming is None else f", expected {day(coming.on.isoformat())}"
    if place in basis.found.overdue:
        return f"{head}, long overdue: not counted, ask the supplier"
    late = coming is not None and coming.overdue > 0
    return f"{head}, overdue: it may still come, ask the supplier" if late else f"{head}{on}"


def _offer_words(basis: Basis) -> Iterator[str]:
    gathered = basis.gathered
    if basis.state == FINE:
        return
    if not gathered.offers:
        yield "nobody offers it: with an offer there would be packs, a price and a day to order by"
        return
    if basis.found.lead is None:
        names = dict.fromkeys(basis.source.suppliers[offer.supplier].name for offer in gathered.offers)
        listed = ", ".join(f'"{name}"' for name in names)
        yield f"no lead time of {listed}: it would help most to know how many days an order takes"
    currency = gathered.offers[0].currency
    if currency != basis.source.settings.currency:
        yield f"offered in {currency} only"
