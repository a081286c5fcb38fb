"""Lubricants on the points of a unit, and what stands against putting another kind over the old one.

Greases of unlike thickener: the mix may be softer, stand less heat and shear down, for it is the thickeners that do
not agree (FIST 2-4, Lubrication of Powerplant Equipment, US Bureau of Reclamation, 11/1990, section 5.2 and table 2).
That the same holds for what is not known to be alike is common practice, no source.
"""

from __future__ import annotations

from typing import NamedTuple

from collection.errors import Refused, fold

KINDS = ("lubricant", "grease", "oil")
CLEANED = "cleaned off first"


class Put(NamedTuple):
    """A lubricant as it is told apart: its supply and the thickener of a grease, "" where none is known."""

    supply_id: int
    supply: str
    thickener: str


class Point(NamedTuple):
    """A point that a procedure puts lubricant on, and whether it takes the old off first."""

    point: str
    cleaned_first: bool


def split_cleaned(text: str) -> tuple[str, bool]:
    """Return a text without ", cleaned off first" behind it, and whether that stood there."""
    what, comma, words = text.rpartition(",")
    if comma and fold(words) == CLEANED:
        return what.strip(), True
    return text.strip(), False


def parse_points(text: str) -> list[Point]:
    """Return the points that a procedure lubricates: "rails, cleaned off first; lead screw"."""
    return [Point(*split_cleaned(each)) for each in text.split(";") if each.strip()]


def parse_put(text: str) -> tuple[str, str, bool]:
    """Return point, supply and whether the old was taken off: "rails=white grease, cleaned off first".

    Raises Refused for another form.
    """
    told, cleaned = split_cleaned(text)
    point, equals, supply = told.partition("=")
    if not equals or not point.strip() or not supply.strip():
        raise Refused(f'"{text}" is no lubricant on a point.', 'Type it as "rails=white grease, cleaned off first".')
    return " ".join(point.split()), supply.strip(), cleaned


def mixing(point: str, old: Put | None, since: str, new: Put) -> str:
    """Return what stands against putting a lubricant over the one on a point, "" where nothing does."""
    if old is None or old.supply_id == new.supply_id:
        return ""
    unlike = old.thickener and new.thickener and fold(old.thickener) != fold(new.thickener)
    why = "of another thickener" if unlike else "another lubricant"
    may = "mixed, greases may turn soft and run" if unlike else "whether the two agree is not known"
    return f"{_named(new)} over {_named(old)}, on the {point} since {since}: {why}; {may}"


def _named(put: Put) -> str:
    thickener = put.thickener and fold(put.thickener) not in fold(put.supply)
    return f"{put.supply} ({put.thickener})" if thickener else put.supply
