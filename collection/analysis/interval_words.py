"""What is said of an interval: how units came in, what is proposed, by which method, and what would help."""

from __future__ import annotations

from math import ceil, floor

from collection.analysis.intervals import (
    BY_NUMBERS,
    LONGER,
    LONGEST_STEP,
    SAME,
    SHORTER,
    SHORTEST_STEP,
    TOO_LITTLE,
    Proposal,
    Tally,
)

_EARLY = 0.75  # of an interval
_WORTH_TELLING = 60  # more than so many visits to come is no advice

METHOD = (
    "Method: results as found of a class together, held against the accepted risk; pass and fail by exact bounds of one"
    " rate of loss, numbers by their mean and spread. Of ILAC-G24:2022 / OIML D 10:2022, clause 6, that is method 5"
    " (other statistical approaches). Not followed: 1 (staircase), which changes the interval of each unit after each"
    " visit; 2 (control chart), to which drift and chart come nearest; 3 (time in use); 4 (black box: quick checks in"
    " between)."
)
STEPS = f"A step leads to {SHORTEST_STEP:g} to {LONGEST_STEP:g} times the interval. Nothing changes until you type it."


def months_words(n: int) -> str:
    """Return "1 month", "12 months"."""
    return f"{n} month" if n == 1 else f"{n} months"


def counted(within: int, came: int, low: float | None, high: float | None) -> str:
    """Return how many were within: "31 of 33, 84 to 99 %", "31 of 31, 88 % or more"; nothing is ever certain."""
    if low is None or high is None:
        return "none came in"
    least, most = floor(100 * low), ceil(100 * high)
    if most >= 100:
        share = f"{least} % or more" if least > 0 else "any share"
    else:
        share = f"{least} to {most} %" if least > 0 else f"{most} % or less"
    return f"{within} of {came}, {share}"


def in_short(what: str, months: int) -> str:
    """Return a proposal in a few words: "longer, 18 months", "keep 12 months", "keep, too little"."""
    if what == TOO_LITTLE:
        return "keep, too little to say"
    return f"{'keep' if what == SAME else f'{what},'} {months_words(months)}"


def sentence(proposal: Proposal, every_months: int, risk: float) -> str:
    """Return what is proposed, and why, in one sentence."""
    tally, wanted, now = proposal.tally, f"{100 * (1 - risk):.4g} %", months_words(every_months)
    if proposal.what == LONGER:
        why = "by how far from their limits they lay" if proposal.by == BY_NUMBERS else "by how many were within"
        months = months_words(proposal.months)
        return f"Longer, {months} in place of {now}: {why}, surely {wanted} last so long ({rests_on(tally)})."
    if proposal.what == SHORTER:
        why = f"surely fewer than {wanted} are within limits after {now} ({rests_on(tally)})"
        if proposal.months == every_months:
            return f"Too long, but none is shorter than {now}: {why}."
        return f"Shorter, {months_words(proposal.months)} in place of {now}: {why}."
    if proposal.what == SAME:
        return f"Keep {now}: nothing speaks against it, nor surely for a longer one ({rests_on(tally)})."
    if not tally.came:
        return f"Keep {now}: none came in with anything read as found."
    early = tally.months < _EARLY * every_months
    return f"Keep {now}: {rests_on(tally)}, {'too early' if early else 'too few'} to tell."


def rests_on(tally: Tally) -> str:
    """Return what a proposal rests on: "31 visits of 6 units, most about 6 months after the last time"."""
    visits = "1 visit" if tally.came == 1 else f"{tally.came} visits"
    units = "1 unit" if tally.units == 1 else f"{tally.units} units"
    most = "" if tally.came == 1 else "most "
    return f"{visits} of {units}, {most}about {months_words(round(tally.months))} after the last time"


def needs(proposal: Proposal, every_months: int) -> str:
    """Return what would tell more, as a sentence; "" where something is proposed."""
    if proposal.what in (LONGER, SHORTER):
        return ""
    if not proposal.tally.came:
        return "Read it as found at the next visits, and note the procedure as done."
    after = f"after about {months_words(every_months)}"
    if proposal.needed is not None and proposal.needed <= _WORTH_TELLING:
        more = "One more" if proposal.needed == 1 else f"{proposal.needed} more"
        return f"{more} {after}, all within limits, would allow a longer one."
    return f"More visits {after} would tell."
