"""Amounts as people write them: "1 bottle 250 ml", "5 ml alcohol, 3 swabs", "2x belt", "some grease"."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from collection.analysis.written.forms import is_blank, plain_number, sentence, take_about, tidy, word_set
from collection.errors import Refused, fold
from collection.quantity import show_number, unit_of


class Amount(NamedTuple):
    """One thing and how much of it.

    words: what it is, "" where the cell does not say; number: "" where the cell does not say how much, and in each
    pack where there are packs; unit: the book's symbol, "piece" for counted things, "" where none is written; packs:
    how many packs, None where none are spoken of; doubt: a sentence, or "".
    """

    words: str
    number: str
    unit: str
    packs: int | None = None
    doubt: str = ""


_UNITS = {
    "cc": "ml", "millilitre": "ml", "millilitres": "ml", "milliliter": "ml", "milliliters": "ml", "litre": "l",
    "litres": "l", "liter": "l", "liters": "l", "ltr": "l", "gram": "g", "grams": "g", "gramm": "g", "gr": "g",
    "grm": "g", "kilo": "kg", "kilos": "kg", "kgs": "kg", "lbs": "lb", "pound": "lb", "pounds": "lb", "ounce": "oz",
    "ounces": "oz", "fl oz": "fl oz", "pcs": "piece", "pc": "piece", "pce": "piece", "pces": "piece", "ea": "piece",
    "each": "piece", "stk": "piece", "stück": "piece", "st": "piece", "off": "piece", "no": "piece", "metre": "m",
    "metres": "m", "meter": "m", "meters": "m", "inch": "in", "inches": "in", "piece": "piece", "pieces": "piece",
}  # fmt: skip
_SYMBOLS = ("us fl oz", "imp fl oz", "fl oz", "us gal", "oz av", "ml", "cl", "l", "mg", "kg", "g", "lb", "oz")
_UNIT_WORDS = sorted({*_UNITS, *_SYMBOLS, "mm", "cm", "m", "in"}, key=len, reverse=True)
_PACKS = word_set(
    "bottle bottles can cans tin tins tube tubes box boxes bag bags pack packs packet packets pkt jar jars roll "
    "rolls reel reels spool spools tub tubs cartridge cartridges syringe syringes pot pots sachet-pack set sets "
    "flasche flaschen dose dosen packung packungen beutel tüte tüten schachtel rolle rollen karton tube tuben"
)
_COUNTS = {
    "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "dozen": 12, "half": 0, "ein": 1, "eine": 1, "einen": 1, "zwei": 2,
    "drei": 3, "vier": 4, "fünf": 5, "sechs": 6, "zehn": 10, "zwölf": 12,
}  # fmt: skip
_NOT_SAID = re.compile(
    r"(?:(?:a|an|one|ein|eine|etwas)\s+)?(?:some|few|couple|bit|little|drops?|dabs?|dash|splash|touch|smear|squirt|"
    r"several|lots?|much|many|etwas|wenig|paar|tropfen|spritzer)\b\s*(?:of\s+)?",
    re.IGNORECASE,
)
_SPLIT = re.compile(r"\s*(?:;|\n|,(?![0-9])|(?<![0-9]),|\s+and\s+|\s+und\s+|\s+plus\s+|\s&\s|\s\+\s)\s*", re.IGNORECASE)
_NUMBER = r"(?:[0-9]+\s+[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9][0-9.,']*|[.,][0-9]+)"
_UNIT = "|".join(re.escape(word) for word in _UNIT_WORDS)
_MEASURE = re.compile(rf"(?P<number>-?{_NUMBER})\s*(?P<unit>{_UNIT})(?![^\W_])\.?", re.IGNORECASE)
_LEADING = re.compile(rf"(?P<number>-?{_NUMBER})\s*(?:[x×*]\s*|\s+(?!%)|$|(?=[^\W\d_]))", re.IGNORECASE)
_TRAILING = re.compile(rf"\s*(?P<mark>[x×*:=]\s*|\s)(?P<number>{_NUMBER})\s*$", re.IGNORECASE)
_NUMBERED = re.compile(r"\b(?:lot|batch|charge|no|nr|type|size|model)\.?\s+\S+$", re.IGNORECASE)
_RANGE = re.compile(r"[0-9]\s*(?:-|to|bis)\s*[0-9]", re.IGNORECASE)


def read_amounts(text: str) -> list[Amount]:
    """Return the amounts that a cell lists, none for an empty one; what is not said stays open, with a doubt.

    Things are parted by commas, semicolons, lines, "and" and "+"; a comma between digits is decimal. Refuses nothing:
    what cannot be read is an amount without a number whose doubt says why.
    """
    lines = "\n".join(tidy(line) for line in text.splitlines())
    found: list[Amount] = []
    for piece in _SPLIT.split(lines):
        if is_blank(piece):
            continue
        amount = _amount(piece)
        if found and not amount.words and amount.number and amount.packs is None and not found[-1].number:
            amount = _joined(found.pop(), amount)
        found.append(amount)
    return found


def _joined(before: Amount, amount: Amount) -> Amount:
    """Return "1 tin grease, 100 g" and "alcohol, 5 ml" as one thing; only packs leave no doubt that it is one."""
    shown = f"{before.words}, {amount.number} {amount.unit}".strip()
    doubt = amount.doubt if before.packs else sentence([f'"{shown}" is read as one', *filter(None, [amount.doubt])])
    return Amount(before.words, amount.number, amount.unit, before.packs, doubt)


@lru_cache(maxsize=4096)
def _amount(piece: str) -> Amount:
    """Read one thing and how much of it."""
    bare, said = take_about(_open_brackets(piece))
    if _RANGE.search(bare):
        return Amount(
            _words(re.sub(r"^[0-9\s.,-]+(?:to|bis)?[0-9\s.,-]*", "", bare)), "", "", None, _unsaid(piece, said)
        )
    vague = _NOT_SAID.match(bare) or re.match(
        rf"{_NUMBER}\s+(?:drops?|dabs?|tropfen)\s*(?:of\s+)?", bare, re.IGNORECASE
    )
    if vague is not None:
        return Amount(_words(bare[vague.end() :]), "", "", None, _unsaid(piece, said))
    measures = list(_MEASURE.finditer(bare))
    if len(measures) > 1:
        return Amount(_words(bare), "", "", None, _unsaid(piece, said))
    try:
        return _measured(bare, measures[0], said, piece) if measures else _counted(bare, said, piece)
    except Refused as refusal:
        return Amount(piece, "", "", None, sentence([*said, f'"{piece}": {refusal}']))


def _open_brackets(piece: str) -> str:
    """Return a piece whose brackets hold a number without them: "bottle (250 ml)", "swabs (3)"."""
    return re.sub(r"\(\s*x?\s*([0-9]+)\s*\)$", r"x\1", re.sub(r"\(\s*([0-9][^()]*[^0-9()])\)", r" \1", piece)).strip()


def _unsaid(piece: str, said: list[str]) -> str:
    return sentence([*said, f'"{piece}": how much is not said'])


def _measured(bare: str, measure: re.Match[str], said: list[str], piece: str) -> Amount:
    """Read a number with a unit, and the packs and words around it."""
    rest = f"{bare[: measure.start()]} {bare[measure.end() :]}".strip()
    count, rest = _count(rest)
    words, packed = _without_pack_words(rest)
    number, doubt = _value(measure["number"])
    unit = unit_of(_symbol(fold(measure["unit"])))
    said = [*said, *([doubt] if doubt else [])]
    if number.startswith("-"):
        raise Refused("an amount is not below zero.")
    if count is not None and not packed and unit.dimension == "length" and words:
        size = measure.group().strip()
        said.append(f'"{size}" is read as its size')
        return Amount(f"{_words(words)} {size}", show_number(count), "piece", None, sentence(said))
    if count is not None and count != int(count):
        raise Refused(f"{show_number(count)} is not a whole number of packs.")
    if count is not None and words and not packed:
        said.append(f'"{piece}" is read as {show_number(count)} packs of {number} {unit.symbol}')
    packs = int(count) if count is not None else (1 if packed else None)
    return Amount(_words(words), number, unit.symbol, packs, sentence(said))


def _symbol(folded: str) -> str:
    """Return the symbol that a folded unit word stands for, in the capitals of the book."""
    known = _UNITS.get(folded, folded)
    return known.replace("us ", "US ", 1) if known.startswith("us ") else known


def _counted(bare: str, said: list[str], piece: str) -> Amount:
    """Read a bare count: "3 swabs", "2x belt", "a swab", "swabs: 3"; packs whose content is not said stay open."""
    first = fold(bare.split(" ", 1)[0])
    count, rest = (Decimal(1), bare) if first in _PACKS else _count(bare)
    if _NUMBERED.search(bare) and not _LEADING.match(bare):
        count = None
    if count is None:
        return Amount(_words(bare), "", "", None, _unsaid(piece, said))
    if (
        first not in _PACKS
        and (tail := _TRAILING.search(bare))
        and not tail["mark"].strip()
        and not _LEADING.match(bare)
    ):
        said.append(f'"{piece}" is read as {show_number(count)} of it')
    if count < 0:
        raise Refused("an amount is not below zero.")
    words, packed = _without_pack_words(rest)
    if packed:
        inner, after = _count(re.sub(r"^of\s+", "", words, flags=re.IGNORECASE))
        if inner is not None:
            return Amount(_words(after), show_number(inner), "piece", int(count), sentence(said))
        return Amount(_words(words), "", "", int(count), sentence([*said, f'"{piece}": what a pack holds is not said']))
    return Amount(_words(words), show_number(count), "piece" if words else "", None, sentence(said))


def _count(text: str) -> tuple[Decimal | None, str]:
    """Take a count off the start or the end of a text: (None, text) where there is none."""
    first, _, rest = text.partition(" ")
    if fold(first) in _COUNTS and _COUNTS[fold(first)]:
        return Decimal(_COUNTS[fold(first)]), rest.strip()
    for found in (_LEADING.match(text), _TRAILING.search(text)):
        if found is not None:
            number, _doubt = _value(found["number"])
            return Decimal(number), f"{text[: found.start()]} {text[found.end() :]}".strip()
    return None, text


def _without_pack_words(text: str) -> tuple[str, bool]:
    """Take words for a pack out of a text, and say whether there were any."""
    words = text.split()
    kept = [word for word in words if fold(word).strip(".:") not in _PACKS]
    return " ".join(kept), len(kept) < len(words)


def _value(written: str) -> tuple[str, str]:
    """Return a number or a fraction as a plain number, and the doubt about it."""
    fraction = re.fullmatch(r"(-?)(?:([0-9]+)\s+)?([0-9]+)/([0-9]+)", written)
    if fraction is None:
        read = plain_number(written.rstrip(".,'"), thousands=",")
        return read.value, read.doubt
    sign, whole, top, bottom = fraction.groups()
    if int(bottom) == 0:
        raise Refused(f'"{written}" divides by zero.', 'Write it as "0.5".')
    value = round(Decimal(whole or 0) + Decimal(top) / Decimal(bottom), 6)
    return sign + show_number(value), ""


def _words(text: str) -> str:
    """Return the words of a thing without "of", "x" and what stands around them."""
    return re.sub(r"^(?:of|von|x|×)\s+", "", text.strip(" .:-=x×*"), flags=re.IGNORECASE).strip()
