"""Which rows of a file the book has already: records by key, then by name; events by key, then as whole rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from collection.acts.bring_in.sheet import NEW, OPEN, REFUSED, SAME, Sheet
from collection.acts.bring_in.state import State
from collection.errors import fold
from collection.schema import TABLES
from collection.store.engine import fetch
from collection.views.folder.form import KEY

IDENTITY = "="  # among a sheet's values: by what a record is known where it has no key


@dataclass(frozen=True, slots=True)
class Field:
    """Where the values of a column are stored; default: what a new record has where nothing is said."""

    column: str
    targets: tuple[tuple[str, Callable[[Any], Any] | None], ...]
    default: Any = None


def same_name(column: str, stored_as: str | None = None, default: Any = None) -> Field:
    """A column that is stored as it is."""
    return Field(column, ((stored_as or column, None),), default)


def fields_of(*columns: str) -> tuple[Field, ...]:
    """Columns that are stored as they are, "column" or "column:stored_as"."""
    return tuple(same_name(*column.split(":")) for column in columns)


@dataclass(frozen=True, slots=True)
class Rule:
    """How the rows of a file become rows of a table.

    named_by: the columns a record is known by. frozen: columns that cannot change, with the reason. corrected: how
    an event that is never rewritten is put right; empty where events may change.
    """

    table: str
    fields: tuple[Field, ...]
    named_by: frozenset[str] = frozenset()
    frozen: dict[str, str] = field(default_factory=dict)
    corrected: str = ""


def merge_records(state: State, sheet: Sheet, stored: Sheet, rule: Rule) -> list[int]:
    """Decide for each row whether its record is new, changed or the same; returns the new rows, not yet written."""
    by_key = _by_key(sheet, stored)
    by_identity = {identity: row for row, identity in enumerate(stored.values[IDENTITY])}
    identities, keys = sheet.values[IDENTITY], sheet.values[KEY]
    seen: dict[Any, int] = {}
    fresh: list[int] = []
    for row in sheet.open_rows():
        match = by_key.get(keys[row])
        if match is None:
            match = by_identity.get(identities[row])
        elif by_identity.get(identities[row], match) != match:
            sheet.refuse(row, sheet.form.label[-1], "another record of the book has this name already")
            continue
        first = seen.setdefault(identities[row] if match is None else ("book", match), row)
        if first != row:
            sheet.refuse(row, sheet.form.label[-1], f"stands twice: see row {sheet.table.rows[first]}")
        elif match is None:
            sheet.kinds[row] = NEW
            fresh.append(row)
        else:
            renamed = identities[row] != stored.values[IDENTITY][match]
            compare_record(state, sheet, row, stored, match, rule, renamed=renamed)
    return fresh


def compare_record(
    state: State, sheet: Sheet, row: int, stored: Sheet, match: int, rule: Rule, *, renamed: bool = True
) -> None:
    """Set what a row says differently from its record; an empty cell says nothing, unless it was edited."""
    sheet.match[row], sheet.refs[row] = match, stored.ids[match]
    differing = [
        each
        for each in rule.fields
        if (renamed or each.column not in rule.named_by or _respelt(sheet, row, stored, match, each.column))
        and _differs(sheet, row, stored, match, each.column)
    ]
    sheet.kinds[row] = SAME
    for each in differing:
        if each.column in rule.frozen:
            sheet.refuse(row, each.column, rule.frozen[each.column])
    if not differing or sheet.kinds[row] == REFUSED:
        return
    state.update(rule.table, stored.ids[match], _stored_values(sheet, row, rule.table, differing))
    columns = [each.column for each in differing]
    sheet.changed(row, columns, [stored.table.cell(column, match) for column in columns])


def _differs(sheet: Sheet, row: int, stored: Sheet, match: int, column: str) -> bool:
    told, before = sheet.values[column][row], stored.values[column][match]
    if told is None or told == "":
        return sheet.table.is_edited(column, row) and before is not None and before != ""
    return bool(told != before)


def _respelt(sheet: Sheet, row: int, stored: Sheet, match: int, column: str) -> bool:
    """Say whether a person spelt a name in another way on purpose."""
    told, before = sheet.values[column][row], stored.values[column][match]
    return sheet.table.is_edited(column, row) and isinstance(told, str) and fold(told) == fold(before or "")


def _stored_values(sheet: Sheet, row: int, table: str, fields: Sequence[Field]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for each in fields:
        told = sheet.values[each.column][row]
        told = each.default if told is None else told
        for name, make in each.targets:
            if told is None:
                values[name] = None if TABLES[table].c[name].nullable else 0
            else:
                values[name] = make(told) if make else told
    return values


def match_events(
    sheet: Sheet, stored: Sheet, content: Sequence[str], loose: Sequence[str] = (), *, if_empty: bool = True
) -> None:
    """Find the stored row of each event: by key, then among equal rows, each once, in the order of both.

    What is left is matched once more without the `loose` columns; with `if_empty` only rows that leave them empty.
    """
    by_key = _by_key(sheet, stored)
    if not stored.size:
        return
    if by_key:
        for row in sheet.open_rows():
            sheet.match[row] = by_key.get(sheet.values[KEY][row])
        sheet.by_key = {row for row, match in enumerate(sheet.match) if match is not None}
    _match_equal(sheet, stored, content, lambda _row: True)
    if loose:
        rest = [column for column in content if column not in loose]
        _match_equal(
            sheet,
            stored,
            rest,
            lambda row: not if_empty or all(sheet.values[column][row] is None for column in loose),
        )


def _match_equal(sheet: Sheet, stored: Sheet, content: Sequence[str], wanted: Callable[[int], bool]) -> None:
    if not any(match is None and kind == OPEN for match, kind in zip(sheet.match, sheet.kinds, strict=True)):
        return
    taken = {match for match in sheet.match if match is not None}
    waiting: dict[tuple[Any, ...], int] = {}
    more: defaultdict[tuple[Any, ...], list[int]] = defaultdict(list)
    for index, what in enumerate(_contents(stored, content)):
        if index not in taken and waiting.setdefault(what, index) != index:
            more[what].append(index)
    for row, what in enumerate(_contents(sheet, content) if waiting else ()):
        match = waiting.get(what)
        if match is None or sheet.match[row] is not None or sheet.kinds[row] != OPEN or not wanted(row):
            continue
        sheet.match[row] = match
        if more.get(what):
            waiting[what] = more[what].pop(0)
        else:
            del waiting[what]


def _contents(sheet: Sheet, columns: Sequence[str]) -> Iterator[tuple[Any, ...]]:
    return zip(*(sheet.values[column] for column in columns), strict=True)


def conclude_events(state: State, sheet: Sheet, stored: Sheet, rule: Rule) -> list[int]:
    """Set the kind of each event after matching; returns the new rows, not yet written."""
    if not stored.size:
        sheet.kinds = sheet.kinds.replace(bytes([OPEN]), bytes([NEW]))
        return [row for row, kind in enumerate(sheet.kinds) if kind == NEW]
    fresh: list[int] = []
    for row, match in enumerate(sheet.match):
        if sheet.kinds[row] != OPEN:
            continue
        if match is None:
            sheet.kinds[row] = NEW
            fresh.append(row)
        elif row not in sheet.by_key:
            sheet.kinds[row], sheet.refs[row] = SAME, stored.ids[match]
        elif rule.corrected:
            _refuse_rewriting(sheet, row, stored, match, rule)
        else:
            compare_record(state, sheet, row, stored, match, rule)
    return fresh


def doubt_twins(sheet: Sheet, stored: Sheet, fresh: list[int], content: Sequence[str], later: Sequence[str]) -> None:
    """Mark new rows that the book has but for what is told of an event later, as the day it ended.

    As whole rows they are others; that the same event is meant only a key can say.
    """
    matched = {match for match in sheet.match if match is not None}
    rest = [column for column in content if column not in later]
    open_ones = {
        what
        for index, (what, *told) in enumerate(
            zip(_contents(stored, rest), *(stored.values[column] for column in later), strict=True)
        )
        if index not in matched and not any(told)
    }
    whats = list(_contents(sheet, rest)) if open_ones else []
    for row in fresh if open_ones else ():
        if whats[row] in open_ones:
            column = next((name for name in later if sheet.values[name][row] is not None), later[0])
            names = ", ".join(later)
            rule = (
                f"the book has the same without {names}; to change that one give this row its key, as an export has it"
            )
            sheet.doubt(row, column, rule)


def _refuse_rewriting(sheet: Sheet, row: int, stored: Sheet, match: int, rule: Rule) -> None:
    sheet.refs[row] = stored.ids[match]
    sheet.kinds[row] = SAME
    for each in rule.fields:
        if _differs(sheet, row, stored, match, each.column):
            was = stored.table.cell(each.column, match) or "empty"
            sheet.refuse(row, each.column, f"was {was} and is never rewritten: {rule.corrected}")


def add_fresh(state: State, sheet: Sheet, rows: list[int], rule: Rule, **more: list[Any]) -> None:
    """Gather the new rows of a sheet to be written; `more` are columns that the file does not have as they are."""
    refs = state.refs(rule.table, len(rows))
    for row, ref in zip(rows, refs, strict=True):
        sheet.refs[row] = ref
    columns: dict[str, list[Any]] = {KEY: fresh_keys(state, sheet, rows, rule.table)}
    for each in rule.fields:
        values = pick(sheet.values[each.column], rows)
        if each.default is not None:
            values = [each.default if value is None else value for value in values]
        for name, make in each.targets:
            columns[name] = [None if v is None else make(v) for v in values] if make else values
    state.add(rule.table, columns | more, refs)


def pick(values: list[Any], rows: list[int]) -> list[Any]:
    """Return the values of some rows."""
    return values if len(rows) == len(values) else [values[row] for row in rows]


def fresh_keys(state: State, sheet: Sheet, rows: list[int], table: str) -> list[Any]:
    """Return the keys that new rows bring; one that another row has or had is not taken over."""
    keys = pick(sheet.values[KEY], rows)
    if not any(keys):
        return keys
    given = {row[0] for row in fetch(state.conn, f"SELECT key FROM {table}")} | state.keys[table]
    taken_over = [None if key in given else key for key in keys]
    state.keys[table].update(key for key in taken_over if key is not None)
    return taken_over


def _by_key(sheet: Sheet, stored: Sheet) -> dict[Any, int]:
    """Return where the keys that the sheet brings stand in the book; a key that comes twice is refused."""
    if not any(sheet.values[KEY]):
        return {}
    first: dict[str, int] = {}
    for row, key in enumerate(sheet.values[KEY]):
        if key is not None and first.setdefault(key, row) != row:
            sheet.refuse(row, KEY, f"stands twice: see row {sheet.table.rows[first[key]]}")
    return {key: row for row, key in enumerate(stored.values[KEY])}


def named_rows(sheet: Sheet, *columns: str) -> Iterator[tuple[Any, ...]]:
    """Yield row and names of every row that has a name, refused ones too: what names them is no second error."""
    cells = zip(*(sheet.values[column] for column in columns), strict=True)
    return ((row, *names) for row, names in enumerate(cells) if names[0] is not None)


def ref_of(state: State, sheet: Sheet, row: int, table: str) -> int:
    """Return what a row's record is known by; a refused new one gets a reference that is never written."""
    ref = sheet.refs[row]
    return state.refs(table, 1)[0] if ref is None else ref
