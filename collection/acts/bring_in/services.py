"""Services with the procedures done, and how other rows are tied to them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from collection.acts.bring_in.leaving import note_held
from collection.acts.bring_in.match import (
    Rule,
    add_fresh,
    conclude_events,
    doubt_twins,
    fields_of,
    match_events,
)
from collection.acts.bring_in.prepare import book_sheet, concerned, in_order
from collection.acts.bring_in.sheet import REFUSED, Sheet
from collection.acts.bring_in.state import State
from collection.errors import fold, nearest
from collection.quantity import parse_day
from collection.store.engine import fetch

_DONE = "tasks are never rewritten: record another service for what was done besides"
SERVICE = Rule(
    "service",
    fields_of("tag:unit_id", "opened_on", "closed_on", "reason", "outcome", "minutes", "by:by_id", "findings"),
    frozen={"tag": "a service stays with its unit: enter a new one"},
)
_CONTENT = (*(each.column for each in SERVICE.fields), "procedures")
_LATER = ("closed_on", "outcome", "minutes", "findings", "procedures")
_TASK = ("service_id", "procedure_id", "procedure_revision", "done_on")


class Services:
    """Services by what the folder calls them, else by their name in the book, and by unit and day."""

    def __init__(self, state: State) -> None:
        self._units: dict[str, dict[int, int]] = defaultdict(dict)
        self._spelt: dict[str, str] = {}
        self._told: set[str] = set()
        self._days: dict[int, list[tuple[str, str, int]]] = defaultdict(list)
        sql = "SELECT id, name, unit_id, opened_on, closed_on FROM service WHERE void = 0 ORDER BY id"
        for ref, name, unit, opened, closed in fetch(state.conn, sql):
            self._units[fold(name)][unit] = ref
            self._spelt[fold(name)] = name
            self._days[unit].append(_span(opened, closed, ref))
        self._on_day: dict[tuple[int, str], int | None] = {}

    def add(self, name: str, unit: int, ref: int) -> None:
        """Let a name of the folder lead to a service; what the book calls so is another matter from then on."""
        folded = fold(name)
        if folded not in self._told:
            self._told.add(folded)
            self._units[folded] = {}
        self._units[folded][unit] = ref
        self._spelt[folded] = name

    def add_day(self, unit: int, opened: str, closed: str | None, ref: int) -> None:
        """Take in when a new service was."""
        self._days[unit].append(_span(opened, closed, ref))

    def told(self, name: str, unit: int) -> bool:
        """Say whether the folder has told of a service of this name and unit."""
        return fold(name) in self._told and unit in self._units[fold(name)]

    def find(self, name: str, unit: int | None) -> int | str:
        """Return the service that a name ties a row of a unit to, or the rule that is broken."""
        units = self._units.get(fold(name))
        if not units:
            near = nearest(name, self._spelt.values()) if len(self._spelt) < _MOST_SEARCHED else []
            advice = f"nearest: {', '.join(near)}; correct it or " if near else ""
            return f"there is no such service; {advice}add it to services.csv"
        if unit is None:
            if len(units) == 1:
                return next(iter(units.values()))
            return "several units have a service of this name; name the unit as well"
        return units.get(unit) or "this service is of another unit"

    def on_day(self, unit: int, day: str) -> int | None:
        """Return the service of a unit on a day, of several the one opened last."""
        key = (unit, day)
        if key not in self._on_day:
            found = [span for span in self._days.get(unit, ()) if span[0] <= parse_day(day).last.isoformat()]
            found = [span for span in found if span[1] >= parse_day(day).first.isoformat()]
            self._on_day[key] = max(found, key=lambda span: span[0])[2] if found else None
        return self._on_day[key]

    def ties(self, sheet: Sheet, rows: Iterable[int], unit_column: str = "tag") -> list[int | None]:
        """Return the services that the column `service` of rows names; a row that names a wrong one is refused."""
        known: dict[tuple[str, int | None], int | str] = {}
        tied: list[int | None] = []
        names, units = sheet.values["service"], sheet.values[unit_column]
        for row in rows:
            name, unit = names[row], units[row]
            if name is None:
                tied.append(None)
                continue
            found = known.get((name, unit))
            if found is None:
                found = known[name, unit] = self.find(name, unit)
            if isinstance(found, str):
                sheet.refuse(row, "service", found)
            tied.append(found if isinstance(found, int) else None)
        return tied


_MOST_SEARCHED = 5_000


def _span(opened: str, closed: str | None, ref: int) -> tuple[str, str, int]:
    """Return the first and last day a service can have had."""
    return parse_day(opened).first.isoformat(), parse_day(closed or opened).last.isoformat(), ref


def services(state: State) -> Services:
    """Return all services, read on first use."""
    if "services" not in state.shared:
        state.shared["services"] = Services(state)
    found: Services = state.shared["services"]
    return found


def plan_services(state: State, sheet: Sheet) -> None:
    """Services as whole rows; the name ties other rows to them and is no part of what they are."""
    known = services(state)
    stored = book_sheet(state, "services.csv", concerned(sheet))
    in_order(sheet, "opened_on", "closed_on")
    for each in (sheet, stored):
        each.values["procedures"] = [done or None for done in each.values["procedures"]]
    _refuse_repeated(sheet)
    match_events(sheet, stored, _CONTENT)
    fresh = conclude_events(state, sheet, stored, SERVICE)
    doubt_twins(sheet, stored, fresh, _CONTENT, _LATER)
    for row, match in enumerate(sheet.match):
        if match is not None and sheet.kinds[row] != REFUSED:
            _keep_tasks(sheet, row, stored, match)
    add_fresh(state, sheet, fresh, SERVICE, name=[sheet.values["service"][row] for row in fresh])
    _add_tasks(state, sheet, fresh)
    note_held(state, sheet, "closed_on")
    _register(state, sheet, fresh, known)


def _refuse_repeated(sheet: Sheet) -> None:
    """Refuse the second service of one name and unit: a name ties rows to one service."""
    seen: dict[tuple[str, int], int] = {}
    for row in sheet.open_rows():
        key = (fold(sheet.values["service"][row]), sheet.values["tag"][row])
        first = seen.setdefault(key, row)
        if first != row:
            told = f"stands twice for this unit: see row {sheet.table.rows[first]}; give it another name"
            sheet.refuse(row, "service", told)


def _keep_tasks(sheet: Sheet, row: int, stored: Sheet, match: int) -> None:
    told = sheet.values["procedures"][row]
    if told is not None and told != stored.values["procedures"][match]:
        was = stored.table.cell("procedures", match) or "empty"
        sheet.refuse(row, "procedures", f"was {was}; {_DONE}")


def _add_tasks(state: State, sheet: Sheet, fresh: list[int]) -> None:
    """One task per procedure, done on the day the service was closed, else opened."""
    revisions = procedure_revisions(state)
    opened, closed, done = (sheet.values[name] for name in ("opened_on", "closed_on", "procedures"))
    rows = [
        (sheet.refs[row], procedure, revisions.get(procedure, 1), closed[row] or opened[row])
        for row in fresh
        for procedure in done[row] or ()
    ]
    state.append("task", _TASK, rows)


def procedure_revisions(state: State) -> dict[int, int]:
    """Return the revision of every procedure, new ones included."""
    if "revisions" not in state.shared:
        rows: list[Any] = fetch(state.conn, "SELECT id, revision FROM procedure WHERE void = 0")
        state.shared["revisions"] = dict(rows)
    found: dict[int, int] = state.shared["revisions"]
    return found


def _register(state: State, sheet: Sheet, fresh: list[int], known: Services) -> None:
    new = set(fresh)
    columns = (sheet.values[name] for name in ("service", "tag", "opened_on", "closed_on"))
    for row, (name, unit, opened, closed) in enumerate(zip(*columns, strict=True)):
        if name is None or unit is None or (sheet.kinds[row] == REFUSED and known.told(name, unit)):
            continue
        if sheet.refs[row] is None:  # refused: what is tied to it is no second error
            sheet.refs[row] = state.refs("service", 1)[0]
        known.add(name, unit, sheet.refs[row])  # type: ignore[arg-type]
        if row in new:
            known.add_day(unit, opened, closed, sheet.refs[row])  # type: ignore[arg-type]
