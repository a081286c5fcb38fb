"""Through which day a lot may be used, and on what that rests.

Four sources, the most particular first: the expiry printed on the lot; the supply's own shelf life; for
rubber the storage periods of ISO 2230:2002 by polymer group; for grease a lubricant maker's shelf-life table
by thickener. A lot that is open may also reach the end of its open life before any of them. Where nothing is
known no date is made up.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
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


# ISO 2230:2002, storage periods by group as tabulated by two moulders of rubber (the standard itself was not
# at hand). Symbols are those of ISO 1629; the names written out stand beside them from memory.
_RUBBER: tuple[tuple[int, int, str, tuple[str, ...]], ...] = (
    (60, 24, "A", ("nr", "ir", "br", "sbr", "au", "eu", "natural rubber", "polyurethane", "unknown")),
    (84, 36, "B", ("nbr", "hnbr", "xnbr", "cr", "iir", "acm", "eco", "nitrile", "chloroprene", "butyl")),
    (120, 60, "C", ("epm", "epdm", "epm/epdm", "fkm", "vmq", "fvmq", "csm", "cm", "silicone")),
)
# A lubricant maker's published shelf-life table: sealed packs, by thickener (PFPE, a base oil, has its own
# row there); every grease as soft as NLGI 0 or softer has the short period whatever its thickener.
_SOFT = "nlgi 0 or softer"
_GREASE: tuple[tuple[int, tuple[str, ...]], ...] = (
    (60, ("li", "lithium", "li complex", "lithium complex", "ca sulfonate", "calcium sulfonate", "pfpe")),
    (24, ("ca", "calcium", "al complex", "aluminium complex", "aluminum complex", "polyurea", "bentonite")),
    (24, ("silicone", _SOFT, "unknown")),
)


def _lives() -> dict[tuple[str, str], Life]:
    """Return the storage periods by ("polymer" or "thickener", folded name)."""
    lives = {}
    for months, extension, group, names in _RUBBER:
        for name in names:
            lives["polymer", name] = Life(months, extension, f"ISO 2230:2002 group {group}")
    for months, names in _GREASE:
        for name in names:
            lives["thickener", name] = Life(months, None, "a lubricant maker's shelf-life table, sealed pack")
    return lives


STANDARD_LIVES: Mapping[tuple[str, str], Life] = MappingProxyType(_lives())

_RUBBER_KINDS = ("belt", "roller")
_NLGI = re.compile(r"[ ,;]*\bnlgi ?(000|00|0|[1-6])\b", re.ASCII)


@dataclass(frozen=True, slots=True)
class LotFacts:
    """What a lot says of its age. Days are ISO texts, maybe partial; `made` may be a quarter as "3/94"."""

    expires_on: str | None = None
    made: str | None = None
    received_on: str | None = None
    opened_on: str | None = None


@dataclass(frozen=True, slots=True)
class SupplyFacts:
    """What a supply says of how its lots age; a grade may follow the thickener: "lithium, NLGI 00"."""

    kind: str = ""
    polymer: str | None = None
    thickener: str | None = None
    shelf_life_months: int | None = None
    open_life_months: int | None = None


class UsableThrough(NamedTuple):
    """The last usable day (None: not known), what it rests on, and the last day an inspection may grant."""

    through: date | None
    because: str
    after_inspection: date | None = None


def usable_through(
    lot: LotFacts, supply: SupplyFacts, own_lives: Mapping[tuple[str, str], Life] = MappingProxyType({})
) -> UsableThrough:
    """Return the last day, itself included, on which the lot may be used.

    own_lives: storage periods that go before STANDARD_LIVES, with the same keys. Raises Refused for days that
    are none.

    A partial day of expiry or manufacture counts as its last day, as labels mean it; a partial day of opening
    or arrival as its first, the cautious reading.
    """
    sealed = _sealed(lot, supply, own_lives)
    if lot.opened_on is None or supply.open_life_months is None:
        return sealed
    end = add_months(parse_day(lot.opened_on).first, supply.open_life_months)
    if sealed.through is not None and sealed.through <= end:
        return sealed
    return UsableThrough(end, f"opened {lot.opened_on}, keeps {_span(supply.open_life_months)} once open")


def _sealed(lot: LotFacts, supply: SupplyFacts, own_lives: Mapping[tuple[str, str], Life]) -> UsableThrough:
    if lot.expires_on is not None:
        return UsableThrough(parse_day(lot.expires_on).last, f"printed expiry {lot.expires_on}")
    if supply.shelf_life_months is not None:
        return _from_birth(lot, Life(supply.shelf_life_months, None, "the supply's own shelf life"))
    if supply.polymer is not None or fold(supply.kind) in _RUBBER_KINDS:
        return _rubber(lot, _life("polymer", supply.polymer, own_lives))
    if supply.thickener is not None or fold(supply.kind) == "grease":
        return _from_birth(lot, _grease_life(supply.thickener, own_lives))
    if lot.made is None and lot.received_on is None:
        return UsableThrough(None, "age unknown: inspect before use")
    return UsableThrough(None, "no shelf life known: inspect before use")


def _life(what: str, name: str | None, own_lives: Mapping[tuple[str, str], Life]) -> Life:
    """Return the life of a material; an unknown one has the shortest of the table, and the source says so."""
    for lives in (own_lives, STANDARD_LIVES):
        if (life := lives.get((what, fold(name or "")))) is not None:
            return life
    cautious = own_lives.get((what, "unknown")) or STANDARD_LIVES[what, "unknown"]
    said = f'{what} "{name}" not in the table' if name else f"{what} not known"
    return cautious._replace(source=f"{cautious.source}, the shortest, because {said}")


def _grease_life(thickener: str | None, own_lives: Mapping[tuple[str, str], Life]) -> Life:
    """Return the life of a grease; an NLGI grade that is not given is taken as 1 or firmer."""
    folded = fold(thickener or "")
    grade = _NLGI.search(folded)
    life = _life("thickener", _NLGI.sub("", folded), own_lives)
    if grade is None or int(grade[1]) > 0:
        return life
    return min(life, _life("thickener", _SOFT, own_lives), key=lambda life: life.months)


def _rubber(lot: LotFacts, life: Life) -> UsableThrough:
    """Count from manufacture only (ISO 2230:2002, 5.3: quarter on the label): a belt may arrive old."""
    if lot.made is None:
        return UsableThrough(None, "age unknown: inspect before use (no quarter of manufacture)")
    made = parse_made(lot.made)
    extended = (
        None if life.extension_months is None else add_months(made, life.months + life.extension_months)
    )
    because = f"made {lot.made} + {_span(life.months)} ({life.source}); then inspect before use"
    return UsableThrough(add_months(made, life.months), because, extended)


def _from_birth(lot: LotFacts, life: Life) -> UsableThrough:
    """Count from the day made, else from the day received."""
    if lot.made is not None:
        start, word = parse_made(lot.made), f"made {lot.made}"
    elif lot.received_on is not None:
        start, word = parse_day(lot.received_on).first, f"received {lot.received_on}, made unknown,"
    else:
        return UsableThrough(None, "age unknown: inspect before use (neither made nor received)")
    because = f"{word} + {_span(life.months)} ({life.source}); then inspect before use"
    return UsableThrough(add_months(start, life.months), because)


def _span(months: int) -> str:
    """Return "5 years", "18 months"."""
    number, word = (months // 12, "year") if months % 12 == 0 else (months, "month")
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


_QUARTER = re.compile(r"([1-4])/([0-9]{4}|[0-9]{2})", re.ASCII)


def parse_made(text: str) -> date:
    """Return the last day of the time of manufacture: "3/94" or "3/1994" (a quarter), or a partial ISO day.

    Two digits of a year mean 1970 to 2069. Labels name a whole quarter or month; ISO 2230:2002, 5.3 does not
    say from which of its days to count, the last is this program's convention. Raises Refused for anything
    else.
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
