"""Faults alike by the words of their symptoms, whatever their endings or a slip of the finger, and what cured them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import lru_cache

from collection.errors import fold
from collection.quantity import parse_day

SAME_MODEL, SAME_KIND = "same model", "same kind"
_WORD = re.compile(r"[^\W_]+")
_SMALL_WORDS = (  # no fault is known by them
    "a after an and are as at but by for from has in into is it its no not of on or so that the then to up was were"
    " when while with"
)
_SMALL = frozenset(_SMALL_WORDS.split())
_ENDINGS = ("ing", "ed", "es", "s", "e")
_LEAST_STEM = 3
_LEAST_SLIP = 5  # letters of a word in which a slip is looked for: shorter ones are too near each other
_NEAR = 0.8
_HALF = 0.5


@dataclass(frozen=True, slots=True)
class Known:
    """A fault of the book: whose, what was seen and when, and how it ended; "" where nothing is told.

    Days are day texts; closed_on is "" while it is open.
    """

    tag: str
    maker: str
    model: str
    kind: str
    noticed_on: str
    symptom: str
    circumstances: str
    cause: str
    cure: str
    no_fault_found: bool
    closed_on: str


@dataclass(frozen=True, slots=True)
class Alike:
    """A fault like the one asked for: how near its words are (0 to 1), and whether its unit is of the same sort."""

    fault: Known
    near: float
    sort: str

    @property
    def days(self) -> int | None:
        """Days from noticing to closing; None while it is open, or where a day is known only to its month."""
        noticed, closed = parse_day(self.fault.noticed_on), self.fault.closed_on and parse_day(self.fault.closed_on)
        if not closed or not (noticed.full and closed.full):
            return None
        return (closed.first - noticed.first).days


def alike(words: str, faults: Iterable[Known], model: tuple[str, str] | None = None) -> list[Alike]:
    """Return the faults whose symptom has more than half of the words, the nearest first, then the newest.

    model: (its kind, its folded "maker name"): faults of that model come first, then those of its kind, no others.
    """
    wanted = stems(words)
    found = []
    for fault in faults:
        near = _nearness(wanted, stems(f"{fault.symptom} {fault.circumstances}"))
        sort = "" if model is None else _sort(fault, model)
        if near > _HALF and (model is None or sort):
            found.append(Alike(fault, near, sort))
    found.sort(key=lambda each: each.fault.noticed_on, reverse=True)
    found.sort(key=lambda each: (each.sort != SAME_MODEL, -each.near))
    return found


def summed_up(found: Sequence[Alike]) -> str:
    """Say in one line how they ended: '4 like it: 3 cured by "cleaned head", 1 no fault found'."""
    cures: dict[frozenset[str], list[str]] = {}
    for each in found:
        if each.fault.closed_on and each.fault.cure:
            cures.setdefault(frozenset(stems(each.fault.cure)), []).append(each.fault.cure)
    said = [f'{len(same)} cured by "{same[0]}"' for same in sorted(cures.values(), key=len, reverse=True)]
    closed = [each.fault for each in found if each.fault.closed_on and not each.fault.cure]
    nothing = sum(fault.no_fault_found for fault in closed)
    untold, still_open = len(closed) - nothing, sum(not each.fault.closed_on for each in found)
    counted = ((nothing, "no fault found"), (untold, "closed without a cure told"), (still_open, "still open"))
    said += [f"{number} {words}" for number, words in counted if number]
    return f"{len(found)} like it: {', '.join(said)}"


def stems(text: str) -> tuple[str, ...]:
    """Return the words of a text without their endings, small words left out unless there are no others."""
    words = _WORD.findall(fold(text))
    return tuple(_stem(word) for word in ([word for word in words if word not in _SMALL] or words))


@lru_cache(maxsize=4096)
def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _LEAST_STEM:
            stem = word.removesuffix(ending)
            return stem[:-1] if len(stem) > _LEAST_STEM and stem[-1] == stem[-2] != "e" else stem
    return word[:-1] if len(word) > _LEAST_STEM and word[-1] == word[-2] != "e" else word


def _nearness(wanted: Sequence[str], there: Sequence[str]) -> float:
    """Return which share of the wanted words is there; one with a slip of the finger counts nine tenths."""
    return sum(max((_same(word, other) for other in there), default=0.0) for word in wanted) / max(len(wanted), 1)


@lru_cache(maxsize=65536)
def _same(one: str, other: str) -> float:
    if one == other:
        return 1.0
    if min(len(one), len(other)) < _LEAST_SLIP:
        return 0.0
    return 0.9 if SequenceMatcher(None, one, other).ratio() >= _NEAR else 0.0


def _sort(fault: Known, model: tuple[str, str]) -> str:
    kind, name = model
    if fold(f"{fault.maker} {fault.model}") == name:
        return SAME_MODEL
    return SAME_KIND if fold(fault.kind) == fold(kind) else ""
