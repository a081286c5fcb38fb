"""The one base class of errors a person can cause, and help with mistyped names.

Whoever raises one of these names the thing, the value seen and the rule in `what`, and what to type next in
`hint`, names in it as `typed` writes them, files as `path_typed` does. The command line prints the sentence and leaves
with `exit_code`; any other exception is a defect.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache


class Expected(Exception):  # noqa: N818  people read "refused", never a class name
    """An error that a person can cause and put right; `str()` is what they read."""

    exit_code: int = 1

    def __init__(self, what: str, hint: str = "", exit_code: int | None = None) -> None:
        super().__init__(f"{what} {hint}" if hint else what)
        self.what = what
        self.hint = hint
        if exit_code is not None:
            self.exit_code = exit_code


class Refused(Expected):
    """The act is refused or failed and nothing changed."""


class NeedsReason(Refused):
    """A rule of the shelf stands against the act; it goes through when a reason is given."""


class PastDate(Refused):
    """Only stock past its date is left; the act goes through when it is said that it was used."""


class Moved(Expected):
    """The record moved on since it was read; look again, then repeat."""

    exit_code = 4


class NoBook(Expected):
    """There is no book, it is a foreign or a newer one, or it cannot be reached."""

    exit_code = 5


@lru_cache(maxsize=65536)
def fold(text: str) -> str:
    """Return the form in which names are compared: compatible forms alike, no case, no spare blanks.

    NFKC and case folding are applied twice because folding can undo the normal form (Unicode Standard,
    section 3.13, compatibility caseless match).
    """
    if text.isascii():
        return " ".join(text.lower().split())
    folded = unicodedata.normalize("NFKC", text).casefold()
    folded = unicodedata.normalize("NFKC", folded).casefold()
    return " ".join(unicodedata.normalize("NFKC", folded).split())


def nearest(word: str, known: Iterable[str], n: int = 3) -> list[str]:
    """Return at most `n` of the known names that look most like `word`, the best first, spelt as known."""
    spelt: dict[str, str] = {}
    for name in known:
        spelt.setdefault(fold(name), name)
    return [spelt[match] for match in difflib.get_close_matches(fold(word), spelt, n=n, cutoff=0.5)]


def path_typed(path: object) -> str:
    """Return the path of a file or folder as `typed`; one that begins with a dash goes by way of its folder."""
    text = str(path)
    return typed(f"./{text}" if text.startswith("-") else text)


def typed(name: str) -> str:
    """Return a name as it is typed in a command, in quotes where a shell would read it otherwise.

    It stands as it is where it has letters, digits, ".", "-", "_" and "/" alone. One that begins with a dash gets a
    blank before it, which every look-up drops: it would be read as an option.
    """
    if re.search(r'["$`\\!]', name):
        from shlex import quote  # hardly any name needs it, and every start would load it

        return quote(_no_option(name))
    return f'"{_no_option(name)}"' if re.search(r"^-|[^\w./-]", name) or not name else name


def _no_option(name: str) -> str:
    return f" {name}" if name.startswith("-") else name
