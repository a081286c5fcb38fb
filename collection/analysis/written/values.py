"""Numbers, readings, standings, kinds and drive types as people write them."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from collection.analysis.written.forms import Read, is_blank, plain_number, sentence, take_about, tidy
from collection.errors import Refused, fold
from collection.quantity import unit_of

__all__ = [
    "Read",
    "Reading",
    "is_blank",
    "read_drive_type",
    "read_kind",
    "read_number",
    "read_reading",
    "read_standing",
]


class Reading(NamedTuple):
    """A reading: value a number or pass / marginal / fail, unit as the book spells it or "", doubt a sentence."""

    value: str
    unit: str = ""
    doubt: str = ""


_GRADES = {
    "pass": "pass passed ok okay good fine great clean yes ja ✓ ✔ in-spec gut bestanden io i.o. n.a.d.",
    "marginal": "marginal so-so borderline weak worn soso fair mäßig grenzwertig",
    "fail": "fail failed bad no nein ✗ ✘ dead broken out-of-spec schlecht defekt nio n.i.o.",
}
_GRADE_OF = {word: grade for grade, words in _GRADES.items() for word in words.split()}
_PHRASES = {"in spec": "pass", "within spec": "pass", "no good": "fail", "out of spec": "fail", "very good": "pass"}
_UNITS = {
    "rpm": "r/min", "r.p.m.": "r/min", "rev/min": "r/min", "u/min": "r/min", "1/min": "r/min", "min-1": "r/min",
    "/min": "r/min", "umin": "r/min", "msec": "ms", "millisec": "ms", "milliseconds": "ms", "sec": "s", "µsec": "µs",
    "usec": "µs", "bars per minute": "bars/min", "bars per min": "bars/min", "bars a minute": "bars/min",
    "bars": "bars/min", "bar/min": "bars/min", "volt": "V", "volts": "V", "v": "V", "vdc": "V", "v dc": "V",
    "mv": "mV", "mv pp": "mVpp", "mvpp": "mVpp", "mv p-p": "mVpp", "mvp-p": "mVpp", "c": "°C", "deg c": "°C",
    "degc": "°C", "grad": "°C", "f": "°F", "deg f": "°F", "micron": "µm", "microns": "µm", "mils": "mil",
    "inch": "in", '"': "in", "percent": "%", "error": "errors", "err": "errors", "errs": "errors", "fehler": "errors",
}  # fmt: skip
_ASSUMED = frozenset(("bars", "c", "f", "grad", "/min"))
_NUMBER_UNIT = re.compile(r"([+-]?[0-9.,][0-9.,']*)\s*(\D.*)?", re.ASCII | re.DOTALL)
_RANGE = re.compile(r"[+-]?[0-9.,]+\s*(?:-|\.\.+|to|bis|/)\s*[+-]?[0-9.,]+.*", re.ASCII)
_EXPONENT = re.compile(r"[+-]?[0-9.,]+e[+-]?[0-9]+.*", re.ASCII | re.IGNORECASE)
_SPREAD = re.compile(r"\s*(?:±|\+/-|\+-)\s*[0-9.,]+")


def read_number(text: str) -> Read:
    """Return a number: "12,5" is 12.5. Raises Refused for what is none."""
    bare, said = take_about(tidy(text))
    read = plain_number(bare)
    return Read(read.value, sentence([*said, *([read.doubt] if read.doubt else [])]))


@lru_cache(maxsize=4096)
def read_reading(text: str) -> Reading:
    """Return what was measured: "300,2", "300.2 rpm", "200 ms", "+6 bars/min", "pass".

    The unit is the book's symbol, "" where none is written. Words for a grade are doubtful unless they are the book's
    own. Raises Refused for a range, a bound, two values in a cell, an unknown unit, and what is no reading.
    """
    whole = tidy(text)
    bare, said = take_about(whole)
    grade = _grade(fold(bare))
    if grade is not None:
        return Reading(grade, "", sentence([*said, *([f'"{bare}" is read as {grade}'] if fold(bare) != grade else [])]))
    spread = _SPREAD.search(bare)
    if spread is not None and spread.start():
        said.append(f'"{spread.group().strip()}" is left out')
        bare = bare[: spread.start()] + bare[spread.end() :]
    if _RANGE.fullmatch(fold(bare)):
        raise Refused(f'"{whole}" names two values.', "Write one value in a cell, the mean if it wandered.")
    if bare[:1] in ("<", ">", "≤", "≥"):
        raise Refused(f'"{whole}" is a bound, not a reading.', "Write what the instrument showed.")
    found = _NUMBER_UNIT.fullmatch(bare)
    if found is None or _EXPONENT.fullmatch(bare):
        raise Refused(f'"{whole}" is not a reading.', 'Write a number with its unit, as "300.2 r/min", or pass.')
    number = plain_number(found.group(1))
    unit, unit_said = _unit(found.group(2) or "")
    said += [doubt for doubt in (number.doubt, unit_said) if doubt]
    return Reading(number.value, unit, sentence(said))


def _grade(word: str) -> str | None:
    """Return the grade that a folded word stands for."""
    return _PHRASES.get(word) or _GRADE_OF.get(word)


def _unit(written: str) -> tuple[str, str]:
    """Return the book's symbol of a unit, and what was assumed."""
    bare = written.strip()
    known = _UNITS.get(fold(bare))
    if bare and known is None:
        return unit_of(bare).symbol, ""
    return known or "", f'"{bare}" is read as {known}' if fold(bare) in _ASSUMED else ""


_STANDINGS = {
    "arrived": "untested; not tested; new; just in; to be tested; to test; unchecked; ungetestet; neu",
    "on the bench": "in work; in progress; under repair; being repaired; wip; on bench; in arbeit; in reparatur",
    "ready": "works; work; ok; okay; working; tested; good; fine; tested ok; tested working; works fine; serviced;"
    " fully working; läuft; geht; funktioniert; i.o.; getestet; spare; available; yes; y; ja; ✓; ✔",
    "in use": "used; daily; daily use; installed; in machine; in service; in benutzung; eingebaut",
    "on loan": "lent; lent out; loaned; loaned out; out; borrowed; verliehen; ausgeliehen",
    "awaiting parts": "dead; broken; defective; faulty; not working; does not work; doesn't work; needs repair;"
    " needs parts; needs belt; to repair; waiting for parts; defekt; kaputt; geht nicht; wartet auf teile; no; n; nein",
    "away": "sent away; at repair shop; out for repair; away for repair; eingeschickt",
    "donor": "for parts; parts; parts only; spares; for spares; parts donor; parts drive; cannibalised; cannibalized;"
    " ersatzteilspender; teilespender; schlachtgerät",
    "missing": "lost; can't find; cannot find; not found; verloren; weg; fehlt",
    "gone": "sold; scrapped; scrap; binned; thrown away; given away; recycled; disposed; swapped; stolen; verkauft;"
    " verschrottet; entsorgt; verschenkt",
}
_STANDING_OF = {word.strip(): name for name, words in _STANDINGS.items() for word in words.split(";")}
_STANDING_STARTS = (
    ("lent to ", "on loan"), ("on loan to ", "on loan"), ("loaned to ", "on loan"), ("verliehen an ", "on loan"),
    ("sold ", "gone"), ("scrapped ", "gone"), ("given to ", "gone"), ("verkauft ", "gone"),
    ("needs ", "awaiting parts"), ("waiting for ", "awaiting parts"), ("for parts ", "donor"),
)  # fmt: skip


def read_standing(text: str) -> Read:
    """Return the standing that a cell means, doubtful unless it is the book's own word.

    Raises Refused for words that stand for none.
    """
    whole = tidy(text)
    bare, _ = take_about(whole)
    folded = fold(bare).rstrip(".!")
    if fold(whole) in _STANDINGS:
        return Read(fold(whole))
    known = folded if folded in _STANDINGS else _STANDING_OF.get(folded)
    if known is None:
        known = next((name for start, name in _STANDING_STARTS if folded.startswith(start)), None)
    if known is None:
        raise Refused(f'"{whole}" is no standing that is known.', f"Write one of: {', '.join(_STANDINGS)}.")
    return Read(known, f'"{whole}" is read as {known}')


_KINDS = {
    "drive": "disk drive; floppy drive; floppy; fdd; floppy disk drive; diskette drive; laufwerk; diskettenlaufwerk;"
    " drives",
    "supply unit": "supply; power supply; psu; power supply unit; power brick; brick; netzteil; supply units",
    "PC supply": "pc psu; pc power supply; atx; atx supply; atx psu; pc netzteil",
    "mechanism": "mech; mechanism only; bare mechanism; bare drive; chassis; mechanik",
    "computer": "pc; micro; microcomputer; home computer; machine; rechner",
    "test gear": "meter; multimeter; oscilloscope; scope; counter; test equipment; tester; messgerät; strobe",
    "medium": "disk; disc; diskette; media; disks; alignment disk; cleaning disk",
}
_DRIVE_TYPES = {
    "belt": "belt drive; belt driven; belt-driven; belt-drive; riemen; riemenantrieb",
    "direct adjustable": "direct drive adjustable; direct with trimmer; direct, adjustable; direct (adjustable)",
    "direct crystal": "crystal; quartz; pll; direct quartz; direct drive crystal; quarz; crystal controlled",
    "AC motor": "ac; mains motor; synchronous; synchronous motor; ac belt; mains",
    "unknown": "",
}
_DIRECT = frozenset(("direct", "direct drive", "direct-drive", "dd", "direkt", "direktantrieb"))


def read_kind(text: str) -> Read:
    """Return the kind of a model; words of a person's own stay as they are, with a doubt."""
    whole = tidy(text)
    known = _named(whole, _KINDS)
    return known or Read(whole, f'"{whole}" is taken as a kind of its own')


def read_drive_type(text: str) -> Read:
    """Return the drive type of a model. Raises Refused for words that stand for none."""
    whole = tidy(text)
    if fold(whole) in _DIRECT:
        return Read("unknown", f'"{whole}" is direct, adjustable or crystal; read as unknown')
    known = _named(whole, _DRIVE_TYPES)
    if known is None:
        raise Refused(f'"{whole}" is no drive type that is known.', f"Write one of: {', '.join(_DRIVE_TYPES)}.")
    return known


def _named(text: str, names: dict[str, str]) -> Read | None:
    """Return the name that is written, or that a known word stands for."""
    folded = fold(text)
    for name, words in names.items():
        if folded == fold(name):
            return Read(name)
        if folded in (word.strip() for word in words.split(";") if word.strip()):
            return Read(name, f'"{text}" is read as {name}')
    return None
