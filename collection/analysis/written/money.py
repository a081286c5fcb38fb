"""Prices as people write them: "35,-", "€ 35", "1.250,00", "12 pounds", "gift"."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from collection.analysis.written.forms import plain_number, sentence, take_about, tidy, word_set
from collection.errors import Refused, fold
from collection.quantity import Money, parse_money


class Price(NamedTuple):
    """A sum: amount as a plain number, currency as an ISO 4217 code, doubt a sentence or ""."""

    amount: str
    currency: str
    doubt: str = ""


# ISO 4217 codes of the currencies that people bought drives in, those the euro replaced among them; from memory.
_CODES = word_set(
    "EUR USD GBP CHF SEK NOK DKK ISK PLN CZK HUF RON BGN CAD AUD NZD JPY CNY INR BRL MXN ZAR TRY SGD HKD KRW TWD "
    "ILS UAH DEM ATS FRF ITL NLG BEF LUF ESP PTE FIM IEP GRD"
)
_DOLLARS = ("USD", "CAD", "AUD", "NZD", "SGD", "HKD", "TWD")
_KRONER = ("SEK", "NOK", "DKK", "ISK")
_WORDS = {
    "€": "EUR", "euro": "EUR", "euros": "EUR", "£": "GBP", "pound": "GBP", "pounds": "GBP", "quid": "GBP",
    "us$": "USD", "ca$": "CAD", "c$": "CAD", "a$": "AUD", "au$": "AUD", "nz$": "NZD", "hk$": "HKD", "s$": "SGD",
    "fr": "CHF", "fr.": "CHF", "sfr": "CHF", "sfr.": "CHF", "francs": "CHF", "franken": "CHF", "zł": "PLN",
    "kč": "CZK", "p": "GBP", "pence": "GBP", "dm": "DEM", "mark": "DEM", "¥": "JPY", "yen": "JPY",
}  # fmt: skip
_SHARED = {"$": _DOLLARS, "dollar": _DOLLARS, "dollars": _DOLLARS, "kr": _KRONER, "kr.": _KRONER, "kronor": _KRONER}
_SURE = frozenset(("€", "euro", "euros", "£", "us$", "ca$", "au$", "nz$", "hk$", "zł", "kč"))
_HUNDREDTHS = frozenset(("c", "ct", "cent", "cents", "p", "pence"))
_FREE = frozenset(("free", "for free", "gratis", "umsonst", "gratuit", "nothing", "0", "free of charge", "kostenlos"))
_GIFTS = frozenset(("gift", "a gift", "present", "donated", "donation", "given", "geschenk", "geschenkt", "spende"))
_FREE_PIECES = frozenset(("each", "ea", "ea.", "apiece", "stück", "total", "inkl", "incl"))
_FORM = re.compile(r"([^0-9+-]*?)\s*([+-]?[.,]?[0-9][0-9.,' ]*?)(?:[.,]-{1,2})?\s*([^0-9]*)", re.ASCII)


@lru_cache(maxsize=4096)
def read_price(text: str, currency: str) -> Price:
    """Return the sum that a cell names. currency: the book's, for a sum without one and for "$" or "kr".

    Raises Refused for what is no sum, for two sums in one cell, a sum below zero, and more digits than the currency
    has.
    """
    whole = tidy(text)
    bare, said = take_about(whole)
    folded = fold(bare)
    if folded in _FREE:
        return Price("0", currency, sentence(said))
    if folded in _GIFTS:
        return Price("0", currency, sentence([*said, f'"{bare}" is read as nothing paid']))
    found = _FORM.fullmatch(bare)
    if found is None:
        raise Refused(f'"{whole}" is not one sum of money.', 'Write it as "35.00".')
    before, number, after = (part.strip() for part in found.groups())
    code, currency_said, part = _currency(before, after, currency, whole)
    amount = plain_number(number, thousands=".,")
    value = _hundredth(amount.value) if part else amount.value
    sum_ = parse_money(value, code)
    if sum_.minor < 0:
        raise Refused(f'"{whole}" is below zero.', 'Write what was paid, as "35.00".')
    said = [*said, *currency_said, *([f"{amount.doubt}: {amount.value}"] if amount.doubt else [])]
    return Price(value, code, sentence(said))


def _hundredth(number: str) -> str:
    """Return cents as a sum."""
    return Money(int(parse_money(number, "JPY").minor), "EUR").text


def _currency(before: str, after: str, book: str, whole: str) -> tuple[str, list[str], bool]:
    """Return the currency that the words beside a number name, what was assumed, and whether they are hundredths."""
    words = [fold(word) for word in (before, after) if word]
    said: list[str] = []
    kept = []
    for word in words:
        pieces = [piece for piece in word.split() if piece not in _FREE_PIECES]
        said += [f'"{piece}" is left out' for piece in word.split() if piece in _FREE_PIECES]
        kept += [" ".join(pieces)] if pieces else []
    if not kept:
        return book, said, False
    codes = {_code(word, book, whole): word for word in kept}
    if len(codes) > 1:
        raise Refused(f'"{whole}" names two currencies.', 'Write it as "35.00 EUR".')
    ((code, doubt), word), *_ = codes.items()
    return code, [*said, *([doubt] if doubt else [])], word in _HUNDREDTHS


def _code(word: str, book: str, whole: str) -> tuple[str, str]:
    """Return the code of one word, and what was assumed for it."""
    if word.upper() == book or word.upper() in _CODES:
        return word.upper(), ""
    if word in _WORDS:
        code = _WORDS[word]
        sure = word in _SURE or (code == book and word not in _HUNDREDTHS)
        return code, "" if sure else f'"{word}" is read as {code}'
    if word in _SHARED:
        return _shared(word, book, whole)
    if word in _HUNDREDTHS:
        return book, f'"{word}" is read as a hundredth of {book}'
    raise Refused(f'"{whole}": "{word}" is no currency that is known.', 'Write it as "35.00 EUR".')


def _shared(word: str, book: str, whole: str) -> tuple[str, str]:
    """Return the code of a word that several currencies share: the book's, else US dollars with a doubt."""
    kinds = _SHARED[word]
    if book in kinds:
        return book, ""
    if kinds is _DOLLARS:
        return "USD", f'"{word}" is read as USD'
    raise Refused(f'"{whole}": "{word}" may be {", ".join(kinds)}.', f'Write it as "35.00 {kinds[0]}".')
