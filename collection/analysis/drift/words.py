"""What a fit says, in words a person acts on. Numbers come in the measurement's own unit, finite."""

from __future__ import annotations

from functools import lru_cache
from math import ceil, floor, isnan, log10
from typing import NamedTuple

from collection.errors import fold
from collection.quantity import show_day

# Below this share of what is known of a slope, its own readings have hardly spoken.
OWN_LEAST = 0.3
_SOON = 5.0  # years; a crossing further off whose range has no end is no date to tell
_MANY = 10**6  # from here on digits tell nothing any more
_LAST_YEAR = 9999


def drift_sentence(slope: float, low: float, high: float, own: float, measured_in: str, class_name: str) -> str:
    """Return what a slope a year with its 95 % interval says; own: the share of it that its own readings tell."""
    unit = f"{measured_in} a year"
    if own < OWN_LEAST:
        return f"too little to say: mostly what {units_of(class_name)} do on average ({_ends(low, high)} {unit})"
    if low > 0 or high < 0:
        near, far = sorted((abs(low), abs(high)))
        way = "up" if low > 0 else "down"
        digits = _digits(far - near, near)
        return f"drifts {way} {_fixed(abs(slope), digits)} {unit} ({_fixed(near, digits)} to {_fixed(far, digits)})"
    least, most = sorted((abs(low), abs(high)))
    if most == 0:
        return "no drift seen"
    if least < most / 3:
        return f"drift not certain: {_ends(low, high)} {unit}"
    return f"no drift seen: less than {_rounded_up(most)} {unit} either way"


def ranks_sentence(slope: float, low: float, high: float, z: float, measured_in: str) -> str:
    """Return the trend by ranks with its 95 % interval, a year, and the Z of its test."""
    digits = _decimals((high - low) / 2) + (high > low)
    middle, least, most = (_signed(each, digits) for each in (slope, low, high))
    return f"{middle} {measured_in} a year ({least} to {most}), Z = {_signed(z, 1)}"


class Known(NamedTuple):
    """What is known of a series besides its slope.

    readings: how many are used. late, by_late: today, or the day asked for, lies before its last reading. level_lost:
    its level was reset since that; slope_lost: and a new slope began.
    """

    readings: int
    late: bool = False
    by_late: bool = False
    level_lost: bool = False
    slope_lost: bool = False


def row_sentence(known: Known, drift: str, usual: str) -> str:
    """Return the sentence of a series. drift: of its slope; usual: what its class does, said where that is all."""
    if not known.readings:
        return "nothing to say: none of its readings is used (set aside, cold, not comparable, no number)"
    said = [drift]
    if known.slope_lost:
        said = [f"not read since a new slope began, so its level is not known ({usual})"]
    elif known.level_lost:
        said.append("its level is not known: not read since it was reset")
    if known.late:
        said.append("today lies before its last reading, so nothing is said of its level")
    elif known.by_late:
        said.append("the day asked for lies before its last reading, so nothing is foretold for it")
    return "; ".join(part for part in said if part)


def usual_sentence(low: float, high: float, measured_in: str, class_name: str) -> str:
    """Return what the units of a class do: the range of slopes that holds 95 % of them."""
    return f"{units_of(class_name)}: {_ends(low, high)} {measured_in} a year"


@lru_cache(maxsize=1024)
def units_of(class_name: str) -> str:
    """Return how the units of a class are called: "belt-driven units", "supply units, +5 V"."""
    kind, comma, point = class_name.partition(",")
    driven = "belt-driven" if fold(kind) == "belt" else kind
    return f"{driven} units{comma}{point}" if not fold(driven).endswith("unit") else f"{driven}s{comma}{point}"


@lru_cache(maxsize=4096)
def rests_on(readings: int, stray: int, segments: int, instruments: tuple[str, ...], *, tied: bool) -> str:
    """Return what a row rests on, "" without a reading."""
    if not readings:
        return ""
    doubtful = f" ({stray} of them likely stray)" if stray else ""
    cut = f" in {segments} segments" if segments > 1 else ""
    against = "tied to a reference" if tied else "tied to no reference"
    return f"{_count(readings, 'reading')}{doubtful}{cut}; {', '.join(instruments)}; {against}"


def jump_sentence(day: str, size: float, measured_in: str) -> str:
    """Return what a suspected jump asks; day: of the reading after it (ISO, may be partial)."""
    way = "up" if size > 0 else "down"
    return (
        f"looks like a jump {way} of {_rounded(abs(size))} {measured_in} by {month_of(day)}"
        " with no service recorded: was it adjusted?"
    )


def crossing_sentence(limit: float, measured_in: str, at: float, first: float, last: float, today: float) -> str | None:
    """Return when a limit is reached with no service in between; None where the forecast never gets near it.

    at, first, last: as in forecast.Crossing, and today, in years from 2000-01-01; all -inf where it is past the limit
    by now.
    """
    if isnan(first):
        return None
    shown = f"{_plain(limit)} {measured_in}"
    if first <= today:
        if last <= today:
            return f"is past {shown} already"
        return f"may be at {shown} already" + (f", else about {_month(at)}" if at > today else "")
    if isnan(last):
        seen = f" (about {_month(at)} at the pace now seen)" if at - today < _SOON else ""
        return f"no date: {shown} is not reached before {_month(first)}{seen}"
    return f"reaches {shown} about {_month(at)} (from {_month(first)} to {_month(last)})"


class Offset(NamedTuple):
    """What is known of an instrument: see InstrumentDrift in the views for the fields.

    told: something can be said of its offset. alone: no other was used. some_reference: another instrument is a
    reference for the measurement, by this name, "" for none. settle: the tag of the unit that a reading with it would
    settle the matter on, or "".
    """

    offset: float
    low: float
    high: float
    measured_in: str
    reference: bool
    linked: bool
    told: bool
    alone: bool
    against: str
    some_reference: str
    settle: str


def instrument_sentence(known: Offset) -> str:
    """Return what is known of an instrument, and where it cannot be compared, what would settle it."""
    if known.reference:
        return "is a reference: the others are told against it"
    if known.told and known.linked:
        return f"{_off(known, ('low', 'high'))}; readings are corrected"
    if known.alone:
        return "is the only one in use, and no reference: there is nothing to compare it with"
    settle = _settle(known)
    if not known.told:
        return f"read nothing between two resets that another instrument read too; {settle}"
    if not known.against:
        return f"the others are told against it, and nothing is corrected; {settle}"
    said = _off(known, (f"lower than {known.against}", f"higher than {known.against}"))
    return f"{said}; nothing is corrected; {settle}"


def set_off_sentence(tag: str, off: float, low: float, high: float, measured_in: str, day: str) -> str:
    """Return what a unit is off that was set by an instrument that reads off; the true value less what was read."""
    near, far = sorted((abs(low), abs(high)))
    digits = _digits(far - near, near)
    size = f"{_fixed(abs(off), digits)} {measured_in} ({_fixed(near, digits)} to {_fixed(far, digits)})"
    return f"{tag} was set by it on {show_day(day)}, and so left {size} too {'high' if off > 0 else 'low'}"


def month_of(day: str) -> str:
    """Return the month of a (partial) ISO day: "Mar 2025"; "2025" where no month is known."""
    return show_day(day[:7])


def _off(known: Offset, ways: tuple[str, str]) -> str:
    low, high = known.low, known.high
    if low > 0 or high < 0:
        near, far = sorted((abs(low), abs(high)))
        digits = _digits(far - near, near)
        size = f"{_fixed(abs(known.offset), digits)} {known.measured_in}"
        return f"reads {size} {ways[known.offset > 0]} ({_fixed(near, digits)} to {_fixed(far, digits)})"
    most = max(abs(low), abs(high))
    beside = "" if known.linked else f" from {known.against}"
    return f"no offset seen{beside}" + (f": {_ends(low, high)} {known.measured_in}" if most else "")


def _settle(known: Offset) -> str:
    if known.some_reference and known.settle:
        return f"read {known.settle} with {known.some_reference}, before it is adjusted, to tie them"
    if known.some_reference:
        return f"read one unit with both it and {known.some_reference}, adjusting nothing in between, to tie them"
    return "no instrument is a reference for this measurement, so only differences are known"


def _ends(low: float, high: float) -> str:
    near = min((abs(end) for end in (low, high) if end), default=0.0)
    digits = min(_decimals(near), _decimals((high - low) / 2) + 2)
    return f"{_signed(low, digits)} to {_signed(high, digits)}"


def _digits(width: float, near: float) -> int:
    """Return the decimals that tell both ends of a range apart, and the near one from zero."""
    digits = _decimals(width / 2)
    while digits < 9 and near > 0 and round(near, digits) == 0:
        digits += 1
    return digits


def _decimals(size: float) -> int:
    """Return the decimals that show the leading digit of a size."""
    return min(9, max(0, -floor(log10(size)))) if size > 0 else 1


def _fixed(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if abs(value) < _MANY else f"{value:.1e}"


def _signed(value: float, digits: int) -> str:
    shown = _fixed(value, digits)
    return shown if float(shown) != 0 else shown.lstrip("-")


def _rounded_up(size: float) -> str:
    """Return a size rounded up to two digits: 0.216 is 0.22."""
    digits = _decimals(size) + 1 if size < _MANY and size < 10 else 0
    shown = _fixed(ceil(size * 10**digits - 1e-9) / 10**digits, digits)
    return shown.rstrip("0").rstrip(".") if digits else shown


def _rounded(size: float) -> str:
    return _fixed(size, _decimals(size) + (1 if size < 10 else 0))


def _plain(value: float) -> str:
    return f"{value:.10g}"


def _month(years: float) -> str:
    """Return the month of a time in years from 2000: "Mar 2025"."""
    month = floor(years * 12)
    year = 2000 + month // 12
    return show_day(f"{year:04d}-{month % 12 + 1:02d}") if 1 <= year <= _LAST_YEAR else f"year {year}"


def _count(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
