"""What a column of a person's own list holds, by its heading; and which subject a table is about."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from collection.analysis.written.forms import tidy
from collection.analysis.written.heading_words import AS_FOUND, AS_LEFT, MEASUREMENTS, SUBJECTS
from collection.errors import fold

_CLOSE = 0.85
# What only a list of units has: a list of services may name a drive, not what was paid for it.
_OF_A_UNIT = {"units.serial": 0.75, "models.maker": 0.75, "units.acquired_on": 0.5, "units.price": 0.5}
# What was done to a unit and what became of it stands in many a list of units.
_BESIDE = ("service.", "fault.", "loan.", "valuation.")
_LOOSE = frozenset(("last", "first", "new", "old", "neu", "alt"))  # "new belt" is no reading of a belt
_ANY_TIME = frozenset(("measured", "actual", "current", "ist", "gemessen"))
_MANY = frozenset(("date", "datum", "price", "preis", "cost", "kosten", "when", "from", "amount", "total", "since"))


class Guess(NamedTuple):
    """What a heading may mean. field: the place in the book; sure: False for a likeness or a word of many meanings."""

    field: str
    sure: bool


def propose(heading: str, subject: str = "") -> list[Guess]:
    """Return what a heading may mean, the likeliest first, nothing where there is no likeness.

    subject: what the table is about ("units", "services", "readings", "supplies", "faults", "loans", "valuations"),
    which decides what "date", "price", "no." and "name" mean; "" for any. Fields are "units.serial", "models.maker",
    "service.opened_on", "fault.cure", "lots.price" ..., and for a measurement in a column of its own
    "reading.as_found:spindle speed", "reading.as_left:rail voltage:+5 V" or, where the heading names no stage,
    "reading.between:...".
    """
    words = plain(heading)
    if not words:
        return []
    if not _known(words):
        words = plain(re.sub(r"\([^()]*\)|\[[^\[\]]*\]", " ", heading)) or words
    own = list(_exact(words, subject)) if subject else []
    found = [Guess(field, sure=True) for field in own[:1]] + [Guess(field, sure=False) for field in own[1:]]
    found += _readings(words, taken=bool(found))
    if subject not in ("", "units") and subject in SUBJECTS:
        sure = not found and subject != "supplies"
        found += [Guess(field, sure=sure) for field in _exact(words, "units") if _joins(field)]
    if not found or not subject:
        elsewhere = [field for name in SUBJECTS for field in _exact(words, name)]
        beside = [field for field in elsewhere if field.startswith(_BESIDE)] if subject == "units" else elsewhere
        sure = len(beside) == 1 and subject in ("", "units")
        found += [Guess(field, sure=sure and field in beside) for field in (*beside, *elsewhere)]
    return _once([*found, *_alike(words, subject)])


def subject_of(headings: Sequence[str]) -> list[Guess]:
    """Return the subjects that a table with these headings may be about, the likeliest first.

    field is the subject's name; the first is sure when it explains clearly more of the headings than the next.
    """
    words = [plain(heading) for heading in headings]
    scores = {subject: sum(_weight(word, subject) for word in words if word) for subject in SUBJECTS}
    ranked = sorted((subject for subject in scores if scores[subject] > 0), key=lambda subject: -scores[subject])
    if not ranked:
        return []
    second = scores[ranked[1]] if len(ranked) > 1 else 0.0
    clear = scores[ranked[0]] >= 1 and scores[ranked[0]] >= 1.25 * second
    return [Guess(subject, sure=clear and not at) for at, subject in enumerate(ranked)]


@lru_cache(maxsize=4096)
def plain(heading: str) -> str:
    """Return a heading folded, without punctuation, "#" and "№" read as "no", signs before digits as words."""
    folded = fold(tidy(heading).replace("#", " no ").replace("№", " no "))
    folded = re.sub(r"(?<![^\W_])-\s*(?=[0-9]+\s*v)", " minus ", folded)
    return " ".join(re.findall(r"[^\W_]+", folded.replace("'", "")))


@lru_cache(maxsize=1)
def _phrases() -> dict[str, dict[str, list[str]]]:
    """Return, by subject, the fields that each phrase stands for, in the order of the table."""
    return {subject: _by_phrase(fields) for subject, fields in SUBJECTS.items()}


@lru_cache(maxsize=1)
def _measured() -> dict[str, list[str]]:
    """Return the measurements that each phrase stands for."""
    return _by_phrase(MEASUREMENTS)


def _by_phrase(fields: dict[str, str]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for field, phrases in fields.items():
        column = field.partition(".")[2].replace("_", " ")
        for phrase in dict.fromkeys([*(plain(phrase) for phrase in phrases.split(";")), *([column] if column else [])]):
            found.setdefault(phrase, []).append(field)
    return found


def _exact(words: str, subject: str) -> Iterator[str]:
    """Yield the fields of a subject that have just this phrase."""
    yield from _phrases().get(subject, {}).get(words, ())


def _known(words: str) -> bool:
    """Say whether a phrase stands in any table as it is."""
    return any(words in phrases for phrases in _phrases().values()) or bool(_readings(words, taken=False))


def _joins(field: str) -> bool:
    """Say whether a column of the unit makes sense in a list of what happened to it."""
    return field.startswith("models.") or field in ("units.serial", "units.owner", "units.location", "units.tag")


def _readings(words: str, *, taken: bool) -> list[Guess]:
    """Return the measurement and stage that a heading names: "rpm before", "speed out", "as-found rpm"."""
    whole = _measured().get(words)
    if whole is not None:
        return [Guess(f"reading.{stage}:{whole[0]}", sure=False) for stage in ("between", "as_left", "as_found")]
    parts = words.split()
    for cut in range(1, len(parts)):
        first, last = " ".join(parts[:cut]), " ".join(parts[cut:])
        for stage, named in ((first, last), (last, first)):
            field = "as_found" if stage in AS_FOUND else "as_left" if stage in AS_LEFT else ""
            found = _measured().get(named)
            if stage in _LOOSE and found is not None and found[0].endswith("condition"):
                continue
            if field and found is not None:
                return [Guess(f"reading.{field}:{found[0]}", sure=not taken and stage not in _LOOSE)]
            if stage in _ANY_TIME and found is not None:
                return [Guess(f"reading.between:{found[0]}", sure=False)]
    alone = {"before": "as_found", "as found": "as_found", "after": "as_left", "as left": "as_left"}.get(words)
    return [Guess(f"reading.{alone}:spindle speed", sure=False)] if alone else []


def _alike(words: str, subject: str) -> list[Guess]:
    """Return the fields whose phrases look like the heading or are contained in it, never sure."""
    subjects = [subject] if subject in SUBJECTS else list(SUBJECTS)
    known = {phrase: fields for name in subjects for phrase, fields in _phrases()[name].items()}
    close = difflib.get_close_matches(words, [phrase for phrase in known if len(phrase) > 3], n=2, cutoff=_CLOSE)
    inside = [phrase for phrase in known if len(phrase) > 3 and f" {phrase} " in f" {words} " and phrase != words]
    inside.sort(key=len, reverse=True)
    return [Guess(known[phrase][0], sure=False) for phrase in [*close, *inside[:2]]]


def _once(guesses: Sequence[Guess]) -> list[Guess]:
    """Return each field once, where it stood first."""
    found: dict[str, Guess] = {}
    for guess in guesses:
        found.setdefault(guess.field, guess)
    return list(found.values())


def _weight(words: str, subject: str) -> float:
    """Return how much a heading speaks for a subject: more where few subjects know the phrase."""
    knowing = [name for name in SUBJECTS if words in _phrases()[name]]
    if subject in knowing:
        more = _OF_A_UNIT.get(_phrases()[subject][words][0], 0.0) if words not in _MANY else 0.0
        return 1.0 / len(knowing) + (0.5 if len(knowing) == 1 else 0.0) + more
    return 0.75 if subject == "services" and _readings(words, taken=False) else 0.0
