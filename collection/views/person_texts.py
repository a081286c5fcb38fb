"""Texts in which a person is still named, those of other people among them, each with the command that changes it.

People write names into notes. No program can take a name out of a sentence and leave its sense, so the places are
told, and who keeps the book decides.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy.engine import Connection

from collection.errors import fold, typed
from collection.schema import EDITABLE, TABLES
from collection.store.engine import fetch
from collection.views.people import FORGOTTEN, Person, is_forgotten

_NOT_WRITTEN = frozenset({"entered", "entered_in", "sha256", "hash", "command", "media_type", "made_by", "time_zone"})
_UNIT = "SELECT u.tag FROM {table} t JOIN unit u ON u.id = t.unit_id WHERE t.id = :id"
_ON_LOAN = """
SELECT l.name, u.tag FROM loan_item t JOIN loan l ON l.id = t.loan_id JOIN unit u ON u.id = t.unit_id WHERE t.id = :id
"""
_NAME = "SELECT t.name FROM {table} t WHERE t.id = :id"
_PICTURE = """
SELECT u.tag, (SELECT count(*) FROM attachment o WHERE o.unit_id = t.unit_id AND o.id <= t.id)
FROM attachment t JOIN unit u ON u.id = t.unit_id WHERE t.id = :id
"""
# The last arrival of its unit; an earlier one is no longer put right.
_ARRIVAL = """
SELECT u.tag FROM arrival t JOIN unit u ON u.id = t.unit_id WHERE t.id = :id AND NOT EXISTS (
  SELECT 1 FROM arrival o WHERE o.unit_id = t.unit_id AND o.void = 0
  AND (o.arrived_on > t.arrived_on OR (o.arrived_on = t.arrived_on AND o.id > t.id))
)
"""
# Of each table: the query for what its command calls the record, the command, and the option of each column.
EDITS: dict[str, tuple[str, str, dict[str, str]]] = {
    "unit": (
        "SELECT t.tag FROM unit t WHERE t.id = :id",
        "unit edit",
        {
            **{each: each for each in ("tag", "serial", "condition", "marks", "jumpers", "rom", "modifications")},
            "accessories": "accessories",
            "drive_number": "drive-number",
            "box": "box",
            "note": "note",
            **{each: each.replace("_", "-") for each in ("acquired_how", "title_evidence", "rescue_note")},
        },
    ),
    "service": (
        "SELECT u.tag, t.name FROM service t JOIN unit u ON u.id = t.unit_id WHERE t.id = :id",
        "service edit",
        {"findings": "findings", "reason": "why"},
    ),
    "damage": (
        _NAME,
        "damage edit",
        {
            **{each: each for each in ("what", "circumstances", "claim", "actions")},
            "closed_how": "outcome",
        },
    ),
    "unit_exit": (_UNIT, "unit edit-disposal", {"reason": "why", "note": "note"}),
    "fault": (_UNIT, "fault edit", {"symptom": "symptom", "circumstances": "when", "cause": "cause", "cure": "cure"}),
    "model": (_NAME, "model edit", {each: each for each in ("maker", "name", "note")}),
    "location": (_NAME, "location edit", {"name": "name", "note": "note"}),
    "measurement": (_NAME, "measurement edit", {"name": "name", "source": "source", "note": "note"}),
    "instrument": (_NAME, "instrument edit", {"name": "name", "host": "host", "note": "note"}),
    "medium": (_NAME, "medium edit", {"condition": "condition", "note": "note"}),
    "procedure": (
        _NAME,
        "procedure edit",
        {"name": "name", "cautions": "cautions", "steps": "steps", "source": "source"},
    ),
    "supply": (_NAME, "supply edit", {"name": "name", "note": "note"}),
    "lot": (
        "SELECT s.name, t.name FROM lot t JOIN supply s ON s.id = t.supply_id WHERE t.id = :id",
        "supply edit-lot",
        {"name": "name", "note": "note"},
    ),
    "supplier": (_NAME, "order edit-supplier", {"name": "name", "note": "note"}),
    "loan": (_NAME, "loan edit", {each: each for each in ("purpose", "cover", "agreement")}),
    "loan_item": (
        _ON_LOAN,
        "loan edit-unit",
        {
            "along": "along",
            "along_missing": "missing",
            "condition_out": "condition-out",
            "condition_back": "condition-back",
        },
    ),
    "policy": (_NAME, "policy edit", {"name": "name", "insurer": "insurer", "note": "note"}),
    "fitted_part": (
        "SELECT u.tag, t.part FROM fitted_part t JOIN unit u ON u.id = t.unit_id WHERE t.id = :id",
        "part edit",
        {"note": "note"},
    ),
    "arrival": (
        _ARRIVAL,
        "arrival",
        {
            **{each: each for each in ("contents", "damage", "fuse", "cord", "note")},
            "mains_setting": "mains",
            "reason": "for",
        },
    ),
    "attachment": (_PICTURE, "photo edit", {"title": "title", "note": "note"}),
    "person": (_NAME, "person edit", {"address": "address", "note": "note"}),
}
_OF_OTHERS = """
SELECT id, void, address, note FROM person WHERE id <> :person AND coalesce(former_of_id, 0) <> :person ORDER BY id
"""
_TOLD = {"unit_entry": "dated entry", "purchase_order": "order", "limit_range": "limit", "act": "history"}
_FORMER = "a former text, in the history"
_DIGITS = 5  # that a telephone number has at least to be told from amounts and names of lots
_WORDS = 3  # letters that a part of a name has at least to be looked for by itself: "of", "de" are none; "Bo" is


@dataclass(frozen=True, slots=True)
class Mention:
    """One text that holds a person's name or address.

    where: the kind of record and, where it has one, its name. command: what to type; "" where none changes the text.
    """

    where: str
    field: str
    text: str
    command: str


def mentions_of(conn: Connection, person: Person) -> list[Mention]:
    """Return the texts of records that count in which the person is named, those that can be changed first.

    Looked for are the whole name, e-mail address, telephone number of five digits or more, and each part of the name of
    three letters or more, or of two that begin with a capital, as whole words. What the history keeps of texts that
    were changed is told as well.
    """
    if is_forgotten(conn, person):
        return []
    wanted = naming(person)
    found = [each for name in TABLES if name != "person" for each in _in_table(conn, name, wanted)]
    found += [*_in_people(conn, person.id, wanted), *_in_history(conn, wanted)]
    return sorted(_each_once(found), key=lambda each: not each.command)


def _each_once(found: list[Mention]) -> Iterator[Mention]:
    """Tell once, with how often, what reads the same."""
    for each, times in Counter(found).items():
        yield each if times == 1 else replace(each, where=f"{each.where}, {times} times")


def naming(person: Person, *, strictly: bool = False) -> Callable[[str], bool]:
    """Return what says of a text whether it names the person.

    Parts of a name count as they are spelt or in capitals, so that a "Drive Circle" is not found in each drive;
    strictly: they count however they are spelt.
    """
    phone = fold(person.phone) if sum(each.isdigit() for each in person.phone) >= _DIGITS else ""
    terms = {fold(person.name), fold(person.email), phone} - {""}
    # The number that is left of who was forgotten names nobody, also on days before they were.
    name = "" if fold(person.name).startswith(FORGOTTEN) else person.name
    parts = {part for part in re.split(r"[\s,.;]+", name) if len(part) >= (2 if part[:1].isupper() else _WORDS)}
    if strictly:
        terms |= set(map(fold, parts))
    whole, part = _any_of(terms), _any_of(parts | {part.upper() for part in parts})
    return lambda text: bool(whole.search(fold(text)) or (parts and part.search(text)))


def _any_of(terms: set[str]) -> re.Pattern[str]:
    either = "|".join(re.escape(term) for term in sorted(terms, key=lambda term: (-len(term), term)))
    return re.compile(rf"(?<!\w)(?:{either})(?!\w)")


def _in_table(conn: Connection, name: str, wanted: Callable[[str], bool]) -> Iterator[Mention]:
    columns = _texts(name)
    if not columns:
        return
    only = " WHERE void = 0" if name in EDITABLE else ""
    sql = f"SELECT id, {', '.join(columns)} FROM {name}{only} ORDER BY id"
    for row_id, *texts in fetch(conn, sql):
        for column, text in zip(columns, texts, strict=True):
            if text and wanted(text):
                yield _mention(conn, name, row_id, column, text)


def _in_people(conn: Connection, person_id: int, wanted: Callable[[str], bool]) -> Iterator[Mention]:
    """Tell of addresses and notes of others, as they are and as they were; a name may be alike and tell nothing."""
    for row_id, void, *texts in fetch(conn, _OF_OTHERS, person=person_id):
        for column, text in zip(("address", "note"), texts, strict=True):
            if text and wanted(text):
                former = Mention(f"{_FORMER}: person", column, text, "")
                yield former if void else _mention(conn, "person", row_id, column, text)


def _texts(name: str) -> list[str]:
    """Return the columns that people write into: those whose length is limited, but for amounts and hashes."""
    table = TABLES[name]
    limited = {str(each.name) for each in table.constraints}
    return [
        column.name
        for column in table.c
        if f"ck_{name}_{column.name}_length" in limited and column.name not in _NOT_WRITTEN
    ]


def _mention(conn: Connection, name: str, row_id: int, column: str, text: str) -> Mention:
    told = _TOLD.get(name, name.replace("_", " "))
    field = column.replace("_", " ")
    if name not in EDITS:
        return Mention(told, field, text, "")
    query, command, options = EDITS[name]
    names = [str(each) for row in fetch(conn, query.format(table=name), id=row_id) for each in row]
    where = " ".join([told, *names])
    if column not in options or not names:
        return Mention(where, field, text, "")
    return Mention(where, field, text, f"spindlebook {_typed(name, command, names)} --{options[column]} TEXT")


def _typed(table: str, command: str, names: list[str]) -> str:
    quoted = [typed(name) for name in names]
    if table == "service":
        return f"{command} {quoted[0]} --service {quoted[1]}"
    if table == "arrival":
        return f"{command} {quoted[0]} --correct --reason TEXT"
    return f"{command} {' '.join(quoted)}"


def _in_history(conn: Connection, wanted: Callable[[str], bool]) -> Iterator[Mention]:
    """Tell of texts that were changed since: the journal keeps what stood there before."""
    import json

    sql = "SELECT table_name, before FROM change WHERE kind = 'update' AND table_name <> 'person' ORDER BY id"
    for table, before in fetch(conn, sql):
        values: dict[str, Any] = json.loads(before or "{}")
        for column, text in values.items():
            if isinstance(text, str) and not column.endswith("_folded") and wanted(text):
                yield Mention(f"{_FORMER}: {table.replace('_', ' ')}", column.replace("_", " "), text, "")
