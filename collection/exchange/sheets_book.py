"""What the book has already, as far as a person's own table must be compared with it while it is read."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy.engine import Connection

from collection.errors import fold
from collection.store.book import BookSettings, open_book
from collection.views.folder.form import FORMS
from collection.views.folder.rows import known_rows
from collection.views.units import unit_ids

_FILLERS = frozenset(("the", "of", "and", "for", "free", "a"))


@dataclass
class BookFacts:
    """Rows by what names them, as the CSV folder has them. tags: every tag and alias, folded."""

    settings: BookSettings
    today: date
    models: dict[tuple[str, str], dict[str, str]] = field(default_factory=dict)
    units: dict[str, dict[str, str]] = field(default_factory=dict)
    tags: set[str] = field(default_factory=set)
    supplies: dict[str, dict[str, str]] = field(default_factory=dict)
    lots: dict[tuple[str, str], dict[str, str]] = field(default_factory=dict)
    suppliers: set[str] = field(default_factory=set)
    procedures: list[str] = field(default_factory=list)
    instruments: set[tuple[str, str]] = field(default_factory=set)
    measured_in: dict[str, str] = field(default_factory=dict)

    @property
    def currency(self) -> str:
        """The book's currency."""
        return self.settings.currency

    @property
    def date_form(self) -> str:
        """How the book's person writes days: which of two numbers is the month."""
        return self.settings.date_form


def book_facts(conn: Connection, today: date) -> BookFacts:
    """Read them from an open book."""
    facts = BookFacts(open_book(conn).settings, today, tags={fold(tag) for tag in unit_ids(conn)})
    facts.models = {(fold(row["maker"]), fold(row["model"])): row for row in _rows(conn, "models.csv", today)}
    facts.units = {fold(row["tag"]): row for row in _rows(conn, "units.csv", today)}
    facts.supplies = {fold(row["supply"]): row for row in _rows(conn, "supplies.csv", today)}
    facts.lots = {(fold(row["supply"]), fold(row["lot"])): row for row in _rows(conn, "lots.csv", today)}
    facts.suppliers = {fold(row["supplier"]) for row in _rows(conn, "suppliers.csv", today)}
    facts.procedures = [row["procedure"] for row in _rows(conn, "procedures.csv", today)]
    facts.measured_in = {fold(row["measurement"]): row["measured_in"] for row in _rows(conn, "measurements.csv", today)}
    facts.instruments = {
        (fold(row["instrument"]), fold(row["measurement"])) for row in _rows(conn, "instruments.csv", today)
    }
    return facts


def _rows(conn: Connection, file: str, today: date) -> Iterator[dict[str, str]]:
    columns = FORMS[file].columns
    for row in known_rows(conn, file, today):
        yield dict(zip(columns, map(str, row[2 : 2 + len(columns)]), strict=True))


@dataclass
class KnownUnits:
    """Units of the book and of the workbook: tags given, and which tags have a serial of a model."""

    facts: BookFacts
    tags: dict[str, str] = field(default_factory=dict)
    by_serial: defaultdict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    _next: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for row in self.facts.units.values():
            self.add(row["tag"], row["serial"])

    def add(self, tag: str, serial: str) -> None:
        """Take a unit in."""
        if fold(tag) not in self.tags:
            self.tags[fold(tag)] = tag
            if serial:
                self.by_serial[fold(serial)].append(tag)

    def find(self, name: str) -> tuple[str, str]:
        """Return the tag that a text means, and the doubt about it; ("", "") where it means none."""
        if fold(name) in self.tags or fold(name) in self.facts.tags:
            return name, ""
        tags = self.by_serial.get(fold(name), [])
        return (tags[0], f"read as unit {tags[0]}, which has this serial") if len(tags) == 1 else ("", "")

    def free_tag(self, kind: str, reserved: set[str]) -> str:
        """Return the next tag for a kind of unit: its letter, and one more than any number it has had."""
        prefix = _PREFIXES.get(kind, "U")
        pattern = re.compile(rf"{prefix.lower()}0*([0-9]{{1,9}})")
        if prefix not in self._next:
            found = (pattern.fullmatch(tag) for tag in (*self.facts.tags, *reserved))
            self._next[prefix] = max((int(match[1]) for match in found if match), default=0) + 1
        tag = f"{prefix}{self._next[prefix]}"
        self._next[prefix] += 1
        return tag


_PREFIXES = {
    "drive": "D", "": "D", "mechanism": "M", "supply unit": "S", "PC supply": "S", "computer": "C", "test gear": "T",
}  # fmt: skip


def words_of(text: str) -> set[str]:
    """Return the words of a name without plurals, for finding "swabs" in "foam swab, lint-free"."""
    return {_singular(word) for word in re.findall(r"[^\W_]+", fold(text)) if word not in _FILLERS}


def _singular(word: str) -> str:
    for ending in ("es", "s"):
        if len(word) > 4 and word.endswith(ending) and not word.endswith("ss"):
            return word[: -len(ending)] if ending == "s" else word.removesuffix("s").removesuffix("e")
    return word


class KnownSupplies:
    """Supplies of the book and of the workbook by name, and by the words that people say for them."""

    def __init__(self, facts: BookFacts) -> None:
        self.rows = dict(facts.supplies)

    def find(self, name: str) -> tuple[str, str]:
        """Return the supply that a text means and the doubt about it; ("", why) where it means none or several."""
        if fold(name) in self.rows:
            return self.rows[fold(name)]["supply"], ""
        said = words_of(name)
        if not any(word.isalpha() for word in said):
            return "", f'"{name}" is no supply of the book'
        found = [row["supply"] for row in self.rows.values() if said <= words_of(row["supply"])]
        if len(found) == 1:
            return found[0], f'"{name}" is read as {found[0]}'
        return "", f'"{name}" may be {" or ".join(found[:3])}' if found else f'"{name}" is no supply of the book'
