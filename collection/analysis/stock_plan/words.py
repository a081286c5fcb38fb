"""What the plan of a supply says, in words a person acts on. Days come as texts, in the book's own form."""

from __future__ import annotations

from math import floor, log10
from typing import NamedTuple

from collection.analysis.stock_plan.found import (
    FINE,
    ORDER_BY,
    ORDER_NOW,
    TOO_LATE,
    Candidate,
    LeadFound,
    Range,
    RunOut,
)

NO_USE_KNOWN = "Nothing tells of its use, so nobody can say when it runs short."
SELDOM = 1 / 200  # below this a chance is told by its bound alone
_LEAST = 1 / 8000  # half a path of 4000: less than that no simulation tells
_ONE_IN = (3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50, 70, 100, 150, 200)
_SHARE_TOLD = 0.02  # of an order that passes its date, from which on it is said
_SAME = 0.005  # parts of a price that are not told apart


# --- chances -----------------------------------------------------------------------------------------------


def told_chance(chance: float) -> float:
    """Return a chance for a program, to four digits: a share of paths is never none and never certain."""
    return round(min(max(chance, _LEAST), 1 - _LEAST), 4)


def odds(chance: float) -> str:
    """Return a chance as odds of small numbers: "1 in 8", "7 in 10", "less than 1 in 200"."""
    if chance < SELDOM:
        return "less than 1 in 200"
    if chance > 1 - SELDOM:
        return "more than 199 in 200"
    if chance < 0.4:
        return f"1 in {min(_ONE_IN, key=lambda each: abs(1 / each - chance))}"
    if chance < 0.55:
        return "1 in 2"
    if chance < 0.925:
        return f"{floor(chance * 10 + 0.5)} in 10"
    of = min((20, 30, 50, 100, 200), key=lambda each: abs(1 - 1 / each - chance))
    return f"{of - 1} in {of}"


def chance_words(chance: float) -> str:
    """Return a chance in words: "about 1 chance in 8", "less than 1 chance in 200"."""
    said = odds(chance)
    first, _, _ = said.removeprefix("less than ").removeprefix("more than ").partition(" ")
    noun = "chance" if first == "1" else "chances"
    told = said.replace(f"{first} in", f"{first} {noun} in", 1)
    return told if told.startswith(("less", "more")) else f"about {told}"


# --- amounts -----------------------------------------------------------------------------------------------


class Scale(NamedTuple):
    """How amounts of a supply are told: the size of its smallest step and the unit that this is in."""

    step: float
    measured_in: str

    def amount(self, steps: float) -> str:
        """Return an estimated amount with no more digits than are known: "31 g", "less than 1 piece"."""
        value = steps * self.step
        if self.measured_in == "piece":
            return self._pieces(value)
        return f"{_number(value, _decimals(value))} {self.measured_in}"

    def about(self, known: Range) -> str:
        """Return an estimate with what 8 in 10 cases lie between: "about 31 g (likely 24 to 39)"."""
        mean, low, high = (each * self.step for each in known)
        if self.measured_in == "piece":
            said, near, far = self._pieces(mean), f"{round(low)}", f"{round(high)}"
        else:
            digits = _decimals(high)
            near, far = _number(low, digits), _number(high, digits)
            said = f"{_number(mean, digits)} {self.measured_in}"
        head = said if said.startswith("less") else f"about {said}"
        return head if near == far and not said.startswith("less") else f"{head} (likely {near} to {far})"

    def each(self) -> str:
        """Return what one of its unit is called: "gram", "piece"."""
        return {"g": "gram", "ml": "millilitre", "m": "metre"}.get(self.measured_in, self.measured_in)

    def _pieces(self, value: float) -> str:
        if 0 < value < 0.5:
            return "less than 1 piece"
        return "1 piece" if round(value) == 1 else f"{round(value)} pieces"


def packs_words(packs: int | None) -> str:
    """Return "1 pack", "3 packs"; "" for none or where nobody knows how much a pack holds."""
    return "" if not packs else "1 pack" if packs == 1 else f"{packs} packs"


# --- use, run-out, lead time -------------------------------------------------------------------------------


def planned_sentence(services: int, planned: Range, scale: Scale, until: str) -> str:
    """Return what planned work takes by a day (in the form shown); services: how many may take some."""
    if not services:
        return f"No service that is planned by {until} takes any."
    many = "One planned service" if services == 1 else f"{_spelt(services)} planned services"
    return f"{many} by {until} will take {scale.about(planned)}."


def unplanned_sentence(unplanned: Range | None, scale: Scale) -> str:
    """Return what repairs that nobody planned take in the same time."""
    if unplanned is None:
        return "Repairs nobody planned: no basis to say, nothing of the kind was watched or guessed yet."
    if unplanned.high <= 0 and unplanned.mean <= 0:
        return "Repairs nobody planned: none, as was said of it."
    return f"Repairs nobody planned: {scale.about(unplanned)}."


class RunOutDays(NamedTuple):
    """The days of a RunOut as shown; "" where they lie beyond what was drawn."""

    early: str
    middle: str
    late: str


def nothing_sentence(run_out: RunOut, days: RunOutDays, until: str, *, coming: bool = False) -> str:
    """Return what happens if nothing is ordered, beyond what is on order already.

    coming: what is on order is enough, and only the time before it may be short: then one range over both would span
    years and tell neither.
    """
    head = "If you do nothing"
    if run_out.middle == 0:
        return f"{head}, the next use can hardly be met: it is likely short today."
    if run_out.chance < SELDOM:
        return f"{head}: {chance_words(run_out.chance)} that some use cannot be met before {until}."
    if coming:
        cannot = f"{chance_words(run_out.chance)} that some use cannot be met before {until}"
        return f"{head} more: {cannot}, most likely before what is on order has come."
    if run_out.chance > 0.5 and days.middle and days.early != days.late:
        late = f"and {days.late}" if days.late else f"and some day after {until}"
        return f"{head}, it runs short about {days.middle} (likely between {days.early} {late})."
    if run_out.chance > 0.5 and days.middle:
        return f"{head}, it runs short about {days.middle}."
    return f"{head}: {chance_words(run_out.chance)} that some use cannot be met before {until}."


def order_sentence(
    state: str, order_by: str, chance_short: float | None, wanted: float, ask: str, *, buys: bool = True
) -> str:
    """Return what to do and by when.

    order_by: the day as shown, "" for none. wanted: the chance of having enough that was asked for. buys: there is
    anything to buy.
    """
    if state == FINE:
        return "Nothing needs to be ordered yet."
    if state == TOO_LATE and not buys:
        return "Nothing more needs to be ordered: what is under way is enough, but some use may come before it arrives."
    if state == ORDER_BY:
        return (
            f"Order by {order_by}: then the chance of having enough until the order comes is {odds(wanted)} or better."
        )
    if state == ORDER_NOW:
        return f"Order now.{_risk(chance_short)}"
    if state == TOO_LATE:
        return f"Order now, though it may well come too late.{_risk(chance_short)}"
    return f"No day to order by can be told. What would help most: {ask}." if ask else "No day can be told."


def _risk(chance_short: float | None) -> str:
    if chance_short is None:
        return ""
    return f" Ordered today: {chance_words(chance_short)} of running short before it comes."


def lead_sentence(supplier: str, lead: LeadFound, *, said: bool, orders: int) -> str:
    """Return how long a supplier takes. said: it gave its word; orders: own orders that came."""
    near, far = max(0, round(lead.low)), round(lead.high)
    days = f"{near} to {far} days" if near != far else "1 day" if far == 1 else f"{far} days"
    own = "1 order of yours" if orders == 1 else f"{orders} orders of yours"
    if not orders:
        rests = "their word; no order of yours yet"
    else:
        rests = f"from their word and {own}" if said else f"from {own}"
    return f"{supplier} usually takes {days} ({rests})."


def spare_sentence(spare: float, scale: Scale) -> str:
    """Return what is kept for more use than expected while an order is out."""
    return f"Spare for surprises while the order is out: {scale.amount(spare)}, which is why it is ordered so early."


# --- quantities --------------------------------------------------------------------------------------------


def choice_sentence(chosen: Candidate, what: str, cost: str, lasts: str, end: str, scale: Scale) -> str:
    """Return what to order: how much, for how much (as shown), until about when it lasts, what of it expires.

    lasts: the month, "" where it lasts beyond `end`, up to which it is looked.
    """
    until = f"lasts until about {lasts}" if lasts else f"lasts beyond {end}"
    return f"Order {what}, {cost}: {until}{_expires(chosen, scale)}."


def why_not(other: Candidate, chosen: Candidate, scale: Scale) -> str:
    """Return why a quantity lost against the chosen one: "9 % cheaper a gram, but 80 g would pass its date"."""
    price, own = other.cost / other.steps, chosen.cost / chosen.steps
    cheaper = _part(1 - price / own) if own else ""
    if not other.keeps_promise and chosen.keeps_promise:
        return f"{chance_words(other.chance_short)} of running short again before the next can come"
    more_waste = other.waste - chosen.waste
    if more_waste > _SHARE_TOLD * other.steps:
        but = f"{scale.amount(other.waste)} would pass its date"
        return f"{cheaper} cheaper a {scale.each()}, but {but}" if cheaper else but
    dearer = _part(other.per_day / chosen.per_day - 1) if chosen.per_day else ""
    if not dearer:
        return "about as good"
    if cheaper:
        return f"{cheaper} cheaper a {scale.each()}, but money lies longer: {dearer} dearer for each day it lasts"
    return f"{dearer} dearer for each day it lasts"


def why_won(chosen: Candidate) -> str:
    """Return why the chosen quantity won."""
    if chosen.keeps_promise:
        return "the least cost for each day it lasts, of those that keep the promise"
    return "no quantity keeps the promise; this one comes nearest"


def runners_up(candidates: tuple[Candidate, ...], chosen: int, most: int) -> list[int]:
    """Return the places of the candidates that are told beside the chosen one, the nearest rivals first.

    Those that keep the promise come first, by their cost a day; then those that break it least.
    """
    others = [place for place in range(len(candidates)) if place != chosen]
    others.sort(key=lambda place: _rank(candidates[place]))
    return others[:most]


def _rank(candidate: Candidate) -> tuple[bool, float, float, int]:
    broken = 0.0 if candidate.keeps_promise else candidate.chance_short
    return not candidate.keeps_promise, broken, candidate.per_day, candidate.steps


def _expires(chosen: Candidate, scale: Scale) -> str:
    if chosen.waste <= _SHARE_TOLD * chosen.steps:
        return ""
    return f"; about {scale.amount(chosen.waste)} will pass its date"


def _part(share: float) -> str:
    """Return a share as whole per cent, "" where it is too small to be told."""
    return f"{max(1, round(100 * share))} %" if share > _SAME else ""


# --- numbers -----------------------------------------------------------------------------------------------


def _spelt(count: int) -> str:
    words = ("", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve")
    return words[count] if count < len(words) else str(count)


def _decimals(size: float) -> int:
    """Return the decimals that show two digits of a size, none from ten on."""
    return min(3, max(0, 1 - floor(log10(size)))) if size > 0 else 0


def _number(value: float, digits: int) -> str:
    """Return a number without zeros at the end; what would be rounded to nothing is rounded up."""
    shown = f"{value:.{digits}f}"
    if float(shown) == 0:
        return f"{10**-digits:.{digits}f}" if value > 0.1 * 10**-digits else "0"
    return shown.rstrip("0").rstrip(".") if digits else shown
