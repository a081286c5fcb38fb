"""What all cells share: what a reader hands back, and numbers with points, commas and blanks between thousands."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from collection.errors import Refused, fold
from collection.quantity import parse_number


class Read(NamedTuple):
    """What a cell says. value: in the form of the CSV folder; doubt: a sentence saying what was assumed, or ""."""

    value: str
    doubt: str = ""


_ABOUT = re.compile(
    r"^(?:~|≈|about|around|roughly|approximately|approx\.?|circa|ca\.?|c\.|etwa|ungefähr|rund|environ|env\.|vers)\s*"
    r"(?=[^a-z]|[a-z]+\W)",
    re.IGNORECASE,
)
_REMARK = re.compile(r"\s*\(([^()]*)\)\s*$")
_DASHES = dict.fromkeys(map(ord, "\N{MINUS SIGN}\N{EN DASH}\N{EM DASH}\N{NON-BREAKING HYPHEN}\N{HYPHEN}"), "-")
_GROUPED = re.compile(r"[0-9]{1,3}([ '.,])[0-9]{3}(?:\1[0-9]{3})*", re.ASCII)
_APOSTROPHES = dict.fromkeys(map(ord, "\N{RIGHT SINGLE QUOTATION MARK}\N{MODIFIER LETTER APOSTROPHE}`"), "'")


def word_set(words: str) -> frozenset[str]:
    """Return the words that stand in a text, for a table of them."""
    return frozenset(words.split())


def tidy(text: str) -> str:
    """Return a cell with single blanks, plain dashes and apostrophes, and compatible characters made alike."""
    if text.isascii():
        return " ".join(text.translate(_APOSTROPHES).split())
    opened = text.replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4")
    return " ".join("".join(map(_alike, opened)).translate(_DASHES | _APOSTROPHES).split())


def _alike(character: str) -> str:
    """Return the compatible form of a character, but leave a raised figure alone: "10⁵" is not 105."""
    return character if unicodedata.category(character) == "No" else unicodedata.normalize("NFKC", character)


def take_about(text: str) -> tuple[str, list[str]]:
    """Take "about", a question mark and a remark in brackets off a cell; the list says what was taken off."""
    bare, said = text, []
    remark = _REMARK.search(bare)
    if remark and remark.start():
        bare, said = bare[: remark.start()], [f'"({remark.group(1)})" is left out']
    about = _ABOUT.match(bare)
    if about:
        bare, said = bare[about.end() :].strip(), ["the cell says about", *said]
    if bare.endswith("?") and bare.strip("? "):
        bare, said = bare.rstrip("? "), ["the cell has a question mark", *said]
    return bare, said


def sentence(said: list[str]) -> str:
    """Return several doubts as one."""
    return "; ".join(said)


def plain_number(text: str, *, thousands: str = "") -> Read:
    """Return a number as the program writes it: "1.250,00" and "1'250.00" are 1250.00, "12,5" is 12.5.

    thousands: which of "." and "," stands between thousands where it stands once, with three digits behind it; such
    a number is doubtful, as is one with a comma that is read as decimal. Raises Refused for what is no number.
    """
    bare = tidy(text)
    sign = "-" if bare.startswith("-") else ""
    digits = bare.lstrip("+-").strip() if bare[:1] in ("+", "-") else bare
    marks = {mark for mark in ".," if mark in digits}
    doubt = ""
    if len(marks) == 2:
        decimal = max(marks, key=digits.rindex)
        whole, _, part = digits.rpartition(decimal)
    elif _is_one_group(digits):
        mark = next(iter(marks))
        if mark in thousands:
            whole, part = digits, ""
            doubt = f'"{mark}" is read as standing between thousands'
        else:
            whole, _, part = digits.partition(mark)
            doubt = '"," is read as the decimal comma' if mark == "," else ""
    elif marks and digits.count(mark := next(iter(marks))) == 1:
        whole, _, part = digits.partition(mark)
    else:
        whole, part = digits, ""
    number = sign + _ungrouped(whole, text) + (f".{part}" if part else "")
    parse_number(number)
    return Read(number, doubt)


def _is_one_group(digits: str) -> bool:
    """Say whether "1.250" might be read in two ways; "0.125" and "1250.125" may not."""
    return re.fullmatch(r"[1-9][0-9]{0,2}[.,][0-9]{3}", digits, re.ASCII) is not None


def _ungrouped(whole: str, text: str) -> str:
    """Return digits without what stands between their thousands; a group that is not of three is no number."""
    if whole.isascii() and whole.isdigit():
        return whole
    if whole == "" and tidy(text).lstrip("+-")[:1] in (".", ","):
        return "0"
    if _GROUPED.fullmatch(whole):
        return re.sub(r"[ '.,]", "", whole)
    raise Refused(f'"{text.strip()}" is not a number.', 'Write it as "12.5" or "1250.00".')


_BLANKS = frozenset(
    ("", "-", "--", "---", "?", "??", "???", ".", "/", "n/a", "n.a.", "na", "#n/a", "none", "null", "unknown", "tbd")
) | frozenset(("unbekannt", "k.a.", "keine", "keine angabe", "not known", "dunno", "inconnu"))


def is_blank(text: str) -> bool:
    """Say whether a cell says nothing: empty, a dash, question marks, "n/a", "unknown"."""
    return fold(tidy(text)) in _BLANKS
