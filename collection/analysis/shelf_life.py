"""Through which day a lot may be used, and on what that rests.

Five sources, the most particular first: what its last inspection found; the expiry printed on the lot; the supply's
own shelf life; for rubber the storage period of its polymer (ISO 2230:2002 by groups); for grease that of its
thickener. The last two are the book's own table. A lot that is open may reach the end of its open life before any of
them, unless it was inspected after it was opened. Where nothing is known no date is made up.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType
from typing import NamedTuple

from collection.analysis.months import add_months
from collection.errors import Refused, fold
from collection.quantity import parse_day


class Life(NamedTuple):
    """A storage period in months, the one extension that an inspection may grant, and the source of both."""

    months: int
    extension_months: int | None
    source: str


Lives = Mapping[tuple[str, str], Life]  # by ("polymer" or "thickener", folded name)

AGE_UNKNOWN = "age unknown: inspect before use"
PASS, FAIL = "pass", "fail"
INSPECT, DISCARD = "inspect", "discard"
UNKNOWN = "unknown"  # the name under which the table keeps the cautious period of a material not in it
SOFT_GREASE = "any, nlgi 000 to 0"  # and that of every soft grease, whatever its thickener

# Written-out names of rubbers (ISO 1629, from memory) and chemical symbols of thickeners.
_OTHER_NAMES = MappingProxyType(
    {
        ("polymer", "natural rubber"): "nr",
        ("polymer", "polyurethane"): "au",
        ("polymer", "nitrile"): "nbr",
        ("polymer", "chloroprene"): "cr",
        ("polymer", "butyl"): "iir",
        ("polymer", "silicone"): "vmq",
        ("thickener", "li"): "lithium",
        ("thickener", "li complex"): "lithium complex",
        ("thickener", "ca"): "calcium",
        ("thickener", "ca sulfonate"): "calcium sulfonate",
        ("thickener", "al complex"): "aluminium complex",
        ("thickener", "aluminum complex"): "aluminium complex",
    }
)
RUBBER_KINDS = ("belt", "roller")
_NLGI = re.compile(r"[ ,;]*\bnlgi ?(000|00|0|[1-6])\b", re.ASCII)


class Inspection(NamedTuple):
    """A lot looked at on a day: it passed, and is good through a day if one was told, or it failed."""

    inspected_on: str
    result: str
    good_through: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class LotFacts:
    """What a lot says of its age. Days are ISO texts, maybe partial; `made` may be a quarter as "3/94".

    inspections: in the order of entry; the last of the latest day tells.
    """

    expires_on: str | None = None
    made: str | None = None
    received_on: str | None = None
    opened_on: str | None = None
    inspections: tuple[Inspection, ...] = ()


@dataclass(frozen=True, slots=True)
class SupplyFacts:
    """What a supply says of how its lots age; a grease's grade ("NLGI 2") may stand in thickener or size."""

    kind: str = ""
    polymer: str | None = None
    thickener: str | None = None
    size: str | None = None
    shelf_life_months: int | None = None
    open_life_months: int | None = None


class UsableThrough(NamedTuple):
    """The last usable day (None: not known), what it rests on, and the last day an inspection may grant.

    failed: the last inspection found it unfit, so that its last usable day was the one before.
    """

    through: date | None
    because: str
    after_inspection: date | None = None
    failed: bool = False

    @property
    def of_unknown_age(self) -> bool:
        """Say whether it is of a kind that ages and nobody knows how old it is."""
        return self.because.startswith(AGE_UNKNOWN)

    def what_then(self, day: date) -> str:
        """Return what becomes of it once it is past its date: as little as is known of it, never more."""
        if self.of_unknown_age:
            return "inspect before use"
        if self.through is None:
            return ""
        end = self.after_inspection
        if self.failed or (end is not None and (end <= self.through or end < day)):
            return DISCARD
        return f"{INSPECT} or {DISCARD}" if end is None else INSPECT


def usable_through(lot: LotFacts, supply: SupplyFacts, lives: Lives) -> UsableThrough:
    """Return the last day, itself included, on which the lot may be used.

    A partial day of expiry or manufacture counts as its last day, as labels mean it; a partial day of opening
    or arrival as its first, the cautious reading. Raises Refused for days that are none.
    """
    by_itself = _sealed(lot, supply, lives)
    last = max(lot.inspections[::-1], key=lambda each: parse_day(each.inspected_on).first, default=None)
    found = by_itself if last is None else _inspected(last, by_itself)
    if found.failed or lot.opened_on is None or supply.open_life_months is None:
        return found
    opened = parse_day(lot.opened_on).first
    if last is not None and last.good_through is not None and opened <= parse_day(last.inspected_on).first:
        return found
    end = add_months(opened, supply.open_life_months)
    if found.through is not None and found.through <= end:
        return found
    return UsableThrough(end, f"opened {lot.opened_on}, keeps {span(supply.open_life_months)} once open")


def _inspected(seen: Inspection, by_itself: UsableThrough) -> UsableThrough:
    """Return what an inspection makes of a lot: its word goes before what the lot says by itself."""
    noted = f" ({seen.note})" if seen.note else ""
    if seen.result == FAIL:
        day_before = parse_day(seen.inspected_on).first - timedelta(days=1)
        because = f"inspected {seen.inspected_on}: failed{noted}"
        return by_itself._replace(through=day_before, because=because, failed=True)
    if seen.good_through is None:
        return by_itself._replace(because=f"{by_itself.because}; inspected {seen.inspected_on}: passed{noted}")
    because = f"inspected {seen.inspected_on}: good through {seen.good_through}{noted}"
    return by_itself._replace(through=parse_day(seen.good_through).last, because=because)


def _sealed(lot: LotFacts, supply: SupplyFacts, lives: Lives) -> UsableThrough:
    if lot.expires_on is not None:
        return UsableThrough(parse_day(lot.expires_on).last, f"printed expiry {lot.expires_on}")
    if supply.shelf_life_months is not None:
        return _from_birth(lot, _own_life(supply.shelf_life_months))
    if is_rubber(supply):
        return _rubber(lot, _life("polymer", supply.polymer, lives))
    if is_grease(supply):
        return _from_birth(lot, _grease_life(supply.thickener or "", _grade(supply), lives))
    return _from_birth(lot, None)


def _own_life(months: int) -> Life:
    return Life(months, None, "the supply's own shelf life")


def rubber_life(supply: SupplyFacts, lives: Lives) -> Life | None:
    """Return what a supply of rubber is given: its own shelf life, else that of its polymer."""
    if supply.shelf_life_months is not None:
        return _own_life(supply.shelf_life_months)
    return _life("polymer", supply.polymer, lives)


def is_rubber(supply: SupplyFacts) -> bool:
    """Say whether a supply is of rubber: its polymer is told, or its kind is one that is made of it."""
    return supply.polymer is not None or fold(supply.kind) in RUBBER_KINDS


def is_grease(supply: SupplyFacts) -> bool:
    """Say whether a supply is a grease: its thickener or its grade is told."""
    return supply.thickener is not None or _grade(supply) is not None


def _grade(supply: SupplyFacts) -> re.Match[str] | None:
    return _NLGI.search(fold(f"{supply.thickener or ''} {supply.size or ''}"))


def _life(what: str, name: str | None, lives: Lives) -> Life | None:
    """Return the life of a material; one not in the table has the cautious period, and its source says so."""
    folded = fold(name or "")
    life = lives.get((what, folded)) or lives.get((what, _OTHER_NAMES.get((what, folded), "")))
    cautious = lives.get((what, UNKNOWN))
    if life is not None or cautious is None:
        return life
    said = f'{what} "{name}" is not in the table' if name else f"the {what} is not known"
    return cautious._replace(source=f"{said}: {cautious.source}")


def _grease_life(thickener: str, grade: re.Match[str] | None, lives: Lives) -> Life | None:
    """Return the life of a grease; a grade that is not given is taken as NLGI 1 or stiffer."""
    life = _life("thickener", _NLGI.sub("", fold(thickener)), lives)
    soft = lives.get(("thickener", SOFT_GREASE)) if grade is not None and int(grade[1]) == 0 else None
    return min((each for each in (soft, life) if each is not None), key=lambda each: each.months, default=None)


def _rubber(lot: LotFacts, life: Life | None) -> UsableThrough:
    """Count from manufacture only (ISO 2230:2002, 5.3: quarter on the label): a belt may arrive old."""
    if lot.made is None:
        return UsableThrough(None, f"{AGE_UNKNOWN} (no quarter of manufacture)")
    found = _from_birth(lot, life)
    if life is None or life.extension_months is None:
        return found
    extended = add_months(parse_made(lot.made), life.months + life.extension_months)
    return found._replace(after_inspection=extended)


def _from_birth(lot: LotFacts, life: Life | None) -> UsableThrough:
    """Count from the day made, else from the day received."""
    if lot.made is not None:
        start, word = parse_made(lot.made), f"made {lot.made}"
    elif lot.received_on is not None:
        start, word = parse_day(lot.received_on).first, f"received {lot.received_on} (made unknown)"
    else:
        return UsableThrough(None, AGE_UNKNOWN)
    if life is None:
        return UsableThrough(None, "no shelf life known: inspect before use")
    because = f"{word} + {span(life.months)}, then inspect before use; {life.source}"
    return UsableThrough(add_months(start, life.months), because)


def span(months: int) -> str:
    """Return "5 years", "18 months"."""
    number, word = (months // 12, "year") if months % 12 == 0 else (months, "month")
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


_QUARTER = re.compile(r"([1-4])/([0-9]{4}|[0-9]{2})", re.ASCII)


def parse_made(text: str) -> date:
    """Return the last day of the time of manufacture: "3/94" or "3/1994" (a quarter), or a partial ISO day.

    Two digits of a year mean 1970 to 2069. Labels name a whole quarter or month (ISO 2230:2002, 5.3); that it
    is counted from the last of its days is this program's convention. Raises Refused for anything else.
    """
    match = _QUARTER.fullmatch(text.strip())
    day = text
    if match is not None:
        year = int(match[2])
        if len(match[2]) == 2:
            year += 1900 if year >= 70 else 2000
        day = f"{year:04}-{3 * int(match[1]):02}"
    try:
        return parse_day(day).last
    except Refused:
        says = f'"{text.strip()}" is neither a quarter of a year nor a day.'
        raise Refused(says, 'Type "3/94" for July to September 1994, or 1994-09.') from None
