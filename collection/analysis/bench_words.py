"""What the bench calendar says in words: of days, of what comes late, of what the drawer gives, of minutes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date

from collection.analysis.bench_drawer import Take, Usual
from collection.analysis.bench_lend import Chosen, LoanDays, Rank
from collection.analysis.bench_minutes import ASSUMED_MINUTES, ENOUGH, Minutes
from collection.analysis.bench_plan import FULL, NO_DAY, ON_LOAN, BenchDay, Opening
from collection.analysis.readiness import READY
from collection.analysis.reasons import UnitFacts
from collection.analysis.stock_plan.given import SHEET_USES
from collection.quantity import show_day

MOST_URGENT = (
    "The most urgent goes first: units with a fault, a complaint or a reading out of its limits,"
    " then what came due the longest ago."
)
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_WHY_LATE = {ON_LOAN: "on loan until then", NO_DAY: "no bench day before", FULL: "the days before are full"}

Say = Callable[[Take, int], str]  # of a take, so many of its steps: "2 pieces of foam swab"


def bench_day(day: date, form: str) -> str:
    """Return a day as a bench calendar shows it: "Sat 28 Nov 2026"."""
    return f"{_WEEKDAYS[day.weekday()]} {show_day(day.isoformat(), form)}"


def day_words(day: BenchDay, minutes: int, form: str) -> str:
    """Return what stands above the openings of a day: how much of it they fill."""
    said = f"{bench_day(day.on, form)}: {day.minutes} of {minutes} minutes"
    return f"{said}, one opening longer than the day" if day.too_long else said


def late_words(opening: Opening) -> str:
    """Return how far past its latest date an opening comes, and why: "5 days late, the days before are full"."""
    days = opening.days_late or 0
    if days <= 0:
        return ""
    why = _WHY_LATE.get(opening.late)
    counted = "1 day late" if days == 1 else f"{days} days late"
    return f"{counted}, {why}" if why else counted


def takes_words(takes: Sequence[Take], say: Say) -> list[str]:
    """Return what a day takes from the drawer, then what that lacks, a line each; none where there is nothing."""
    lacks = [short_words(each, say) for each in takes if each.short]
    said = [f"takes {', '.join(say(each, each.steps) for each in takes)}"] if takes else []
    return [*said, f"SHORT of {', '.join(lacks)}"] if lacks else said


def short_words(take: Take, say: Say) -> str:
    """Return what the drawer lacks, and whether open orders are to bring it by then."""
    said = say(take, take.short)
    if take.coming >= take.short:
        return f"{said} unless what is on order comes by then"
    return f"{said} even with what is on order" if take.coming else said


def minutes_words(procedures: Iterable[tuple[int | None, str]], minutes: Mapping[int, Minutes]) -> str:
    """Return what the minutes of some procedures (id, name) rest on."""
    told: list[int] = []
    sheets = False
    assumed: dict[str, None] = {}
    for number, name in procedures:
        if number is None or minutes[number].assumed:
            assumed[name] = None
        elif minutes[number].services:
            told.append(minutes[number].services)
        else:
            sheets = True
    said = []
    if told:
        least, most = min(told), max(told)
        services = f"{least}" if least == most else f"{least} to {most}"
        few = f", by the sheet where fewer than {ENOUGH} tell" if sheets else ""
        said.append(f"by the median of {services} past services of each procedure{few}")
    elif sheets:
        said.append("by the sheets")
    if assumed:
        said.append(f"{ASSUMED_MINUTES} assumed for {', '.join(assumed)}")
    return f"Minutes {'; '.join(said)}."


def amounts_words(
    procedures: Iterable[tuple[int | None, str]], amounts: Iterable[Usual], supplies: Mapping[int, str]
) -> list[str]:
    """Return what the amounts of some procedures (id, name) rest on, and of which nobody knows any.

    supplies: names by id.
    """
    names = {number: name for number, name in procedures if number is not None}
    taken = [each for each in amounts if each.procedure_id in names]
    uses = round(sum(each.uses for each in taken))
    said = []
    if uses:
        told = "1 use" if uses == 1 else f"{uses} uses"
        said.append(f"Amounts by the mean of {told} written down, each sheet counted as {SHEET_USES} more.")
    elif any(each.known for each in taken):
        said.append("Amounts by the sheets: no use of them is written down yet.")
    unknown = [f"{supplies[each.supply_id]} by {names[each.procedure_id]}" for each in taken if not each.known]
    if unknown:
        said.append(f"Not in it, since no sheet and no use tells how much: {', '.join(unknown)}.")
    return said


def lend_words(chosen: Chosen, facts: UnitFacts, form: str) -> str:
    """Return when a unit is ready to be lent: "now", "when it is back", else the bench day on which it is opened."""
    if chosen.opening is not None:
        return bench_day(chosen.opening.on, form)
    return f"when back, {show_day(facts.loan_due, form)}" if facts.loan_due else "now"


def lend_note(chosen: Chosen, facts: UnitFacts, day_minutes: int, takes: Sequence[Take], say: Say) -> str:
    """Return what stands in the way of a unit that is to be lent; "" for nothing."""
    said = []
    if facts.open_faults or chosen.candidate.rank is Rank.UNCERTAIN:
        what = "a fault is open" if facts.open_faults else "a reading is out of its limits"
        said.append(f"{what}: the time may not do")
    if chosen.opening is None and facts.standing not in (*READY, "on loan"):
        said.append(f"stands as {facts.standing or 'nothing'}: to be called ready first")
    if chosen.opening is not None and chosen.opening.minutes > day_minutes:
        said.append("longer than a bench day")
    said += [f"SHORT of {short_words(each, say)}" for each in takes if each.short]
    return "; ".join(said)


def loan_words(loans: LoanDays) -> str:
    """Return how long a loan is taken to last, and by what."""
    if loans.loans:
        return f"{loans.days} days, the median of {loans.loans} past loans"
    return f"{loans.days} days, assumed (common practice, no source)"
