"""What an insurance schedule says in sentences, the same on paper, in the workbook and on the screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from collection.analysis.insurance import NONE, OF_MODEL, OLD, WITH_ANOTHER, paid_by_average
from collection.exchange.insurance_rows import Leave
from collection.quantity import Money, show_day
from collection.views.insurance import BORROWED, CONTENTS, MISSING, Item, Schedule, dearest

_AVERAGE = (
    "Paid under the condition of average: loss x sum insured / value of the contents, never more than the loss nor than"
    " the sum insured, before any excess. Whether a policy has this condition, and what it covers, its wording decides."
)

_MOST_NAMED = 16


class Claim(NamedTuple):
    """A loss by way of example, and what would be paid of it. of: what is lost, in words."""

    of: str
    loss: Money
    paid: Money


class Told(NamedTuple):
    """The title, by what knowledge, example claims, what the condition of average is, and what to know besides."""

    title: str
    known: str
    claims: tuple[Claim, ...]
    average: str
    notes: tuple[str, ...]


def told_of(plan: Schedule, leave: Leave, known: str) -> Told:
    """Return what is said of a schedule; known: by what knowledge it was made, in words."""
    whose = f" of {plan.settings.name}" if plan.settings.name else ""
    return Told(f"Schedule of contents{whose}", known, tuple(_claims(plan)), _AVERAGE, tuple(_notes(plan, leave)))


def money(amount: Money) -> str:
    """Return a sum with its thousands apart and its currency."""
    whole, point, rest = amount.text.partition(".")
    return f"{int(whole):,}{point}{rest} {amount.currency}"


def _claims(plan: Schedule) -> Iterator[Claim]:
    """Yield, for each insured currency, the loss of the dearest thing, of half and of all."""
    insured, values = plan.insured(), plan.totals(CONTENTS)
    for code in sorted(set(insured) & set(values)):
        of_code = [item for item in plan.of(CONTENTS) if item.counted is not None and item.counted.currency == code]
        best = dearest(of_code)
        losses = [(f"{_name(best)} is lost", best.counted)] if best and best.counted else []
        losses += [
            ("half of the contents", Money(values[code].minor // 2, code)),
            ("all of the contents", values[code]),
        ]
        for words, loss in losses:
            yield Claim(words, loss, paid_by_average(loss, insured[code], values[code]))


def cover(plan: Schedule) -> Iterator[str]:
    """Yield how each sum insured stands to the value of the contents."""
    insured, values = plan.insured(), plan.totals(CONTENTS)
    for code in sorted({*insured, *values}):
        if code not in insured:
            yield f"No policy in force says a sum in {code}; the contents are worth {money(values[code])}."
            continue
        sure = insured[code]
        if code not in values:
            yield f"Insured for {money(sure)}; nothing of the contents is valued in {code}: check the currency."
            continue
        worth = values[code]
        if sure.minor >= worth.minor:
            yield f"Insured for {money(sure)}, worth {money(worth)}: the sum is enough."
        else:
            short = Money(worth.minor - sure.minor, code)
            share = 1000 * sure.minor // worth.minor
            yield (
                f"Insured for {money(sure)}, worth {money(worth)}: {money(short)} too little. Under the condition of"
                f" average {share // 10}.{share % 10} % of a loss is paid."
            )


def _notes(plan: Schedule, leave: Leave) -> Iterator[str]:
    if not plan.items:
        yield "The book has nothing to list on this day."
    yield from cover(plan)
    if len([policy for policy in plan.policies if policy.insured]) > 1:
        yield "Several policies are in force: their sums are added up. Whether they add up, their wordings decide."
    if plan.of(BORROWED):
        sums = " and ".join(money(each) for each in plan.totals(BORROWED).values()) or "of no known value"
        yield f"Borrowed things ({sums}) stand apart and are no part of the contents: ask whether the policy has them."
    yield from _about_values(plan)
    if plan.unpriced:
        yield f"In the drawer {_count(plan.unpriced, 'lot')} of no known price: counted with nothing."
    if plan.of(MISSING):
        yield f"Missing and counted with nothing: {_tags(plan.of(MISSING))}."
    left = [word for word in ("prices", "owners", "borrowers", "photos") if getattr(leave, word)]
    if left:
        yield f"Left out on purpose: {', '.join(left)}."


def _about_values(plan: Schedule) -> Iterator[str]:
    form = plan.settings.date_form
    old = plan.flagged(OLD)
    if old:
        oldest = min(item.valued.valued_on for item in old if item.valued)
        since = f"made more than {plan.months} months before (the oldest of {show_day(oldest, form)})"
        yield f"Values out of date, {since}: {_tags(old)}."
    if plan.flagged(OF_MODEL):
        yield f"Nobody valued these; what their models cost to replace stands in: {_tags(plan.flagged(OF_MODEL))}."
    if plan.flagged(NONE):
        yield f"Not valued, and counted with nothing: {_tags(plan.flagged(NONE))}."
    if plan.flagged(WITH_ANOTHER):
        pairs = ", ".join(f"{_name(item)} with {item.with_tag}" for item in plan.flagged(WITH_ANOTHER))
        yield f"Counted with the unit in which they stand, so that no pair counts twice: {pairs}."
    bases = {item.valued.basis for item in plan.of(CONTENTS) if item.valued and item.counted is not None and item.unit}
    if len(bases) > 1:
        yield f"The sum is over values of different bases: {', '.join(sorted(bases))}."


def _name(item: Item) -> str:
    return item.unit.tag if item.unit else f'"{item.name}"'


def _tags(items: Sequence[Item]) -> str:
    """Return the first few names; each line says of itself what it is, so that a sentence need not name them all."""
    more = len(items) - _MOST_NAMED
    return ", ".join(map(_name, items[:_MOST_NAMED])) + (f" and {more} more" if more > 0 else "")


def _count(number: int, word: str) -> str:
    return f"1 {word} is" if number == 1 else f"{number} {word}s are"
