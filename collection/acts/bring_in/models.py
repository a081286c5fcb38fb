"""Models, known by maker and name."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    fields_of,
    merge_records,
    named_rows,
    ref_of,
)
from collection.acts.bring_in.prepare import book_sheet, joint, read_money
from collection.acts.bring_in.sheet import CHANGED, NEW, Sheet
from collection.acts.bring_in.state import State
from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch

DEFAULT_KIND = "drive"

MODEL = Rule(
    "model",
    (
        Field("model", (("name", None), ("name_folded", fold))),
        Field("maker", (("maker", None), ("maker_folded", fold)), default=""),
        Field("kind", (("kind", None),), default=DEFAULT_KIND),
        *fields_of("drive_type", "nominal_speed:nominal_speeds", "speed_adjustable", "media", "supply_inside"),
        *fields_of("replacement_value:replacement_minor", "currency", "note"),
    ),
    frozenset({"model", "maker"}),
)


class Models:
    """Models by maker and name, or by a name that only one of them has."""

    def __init__(self, state: State) -> None:
        self._of: dict[str, dict[str, int]] = defaultdict(dict)
        self._spelt: dict[str, str] = {}
        sql = "SELECT maker_folded, name_folded, maker, name, id FROM model WHERE void = 0"
        for maker, name, spelt_maker, spelt_name, ref in fetch(state.conn, sql):
            self._of[name][maker] = ref
            self._spell(spelt_name, spelt_maker)

    def find(self, name: str, maker: str | None) -> int | None:
        """Return the model, or None. Raises Refused where a name without a maker is that of several."""
        makers = self._of.get(fold(name), {})
        if maker is not None:
            return makers.get(fold(maker))
        if len(makers) > 1:
            raise Refused(f"{len(makers)} makers have a model of this name", "name the maker")
        return next(iter(makers.values()), None)

    def need(self, name: str, maker: str | None) -> int:
        """Return the model. Raises Refused with near names."""
        found = self.find(name, maker)
        if found is None:
            alike = nearest(f"{maker or ''} {name}".strip(), self._spelt)
            near = dict.fromkeys(self._spelt[one] for one in alike)
            add = "add it to models.csv"
            advice = f"nearest: {', '.join(near)}; correct it or {add}" if near else add
            raise Refused("there is no such model", advice)
        return found

    def add(self, name: str, maker: str | None, ref: int) -> None:
        """Let a maker and name lead to a model."""
        self._of[fold(name)][fold(maker or "")] = ref
        self._spell(name, maker or "")

    def _spell(self, name: str, maker: str) -> None:
        """Let a name be found near what is typed, with its maker and without."""
        full = f"{maker} {name}".strip()
        self._spelt |= {full: full, name: full}


def models(state: State) -> Models:
    """Return all models, read on first use."""
    if "models" not in state.shared:
        state.shared["models"] = Models(state)
    found: Models = state.shared["models"]
    return found


def plan_models(state: State, sheet: Sheet) -> None:
    """Models by maker and name."""
    stored, known = book_sheet(state, "models.csv"), models(state)
    for each in (sheet, stored):
        read_money(state, each, "replacement_value")
    stored.values[IDENTITY] = list(stored.ids)
    sheet.values[IDENTITY] = _identities(sheet, known)
    fresh = merge_records(state, sheet, stored, MODEL)
    add_fresh(state, sheet, fresh, MODEL)
    _tell_nominals(state, sheet)
    for row, name, maker in named_rows(sheet, "model", "maker"):
        if sheet.kinds[row] in (NEW, CHANGED) or known.find(name, maker or "") is None:
            known.add(name, maker, ref_of(state, sheet, row, "model"))


def _identities(sheet: Sheet, known: Models) -> list[Any]:
    """Return the model each row is about, else a new one's maker and name."""

    def identity(name: str, maker: str | None) -> Any:
        found = known.find(name, maker)
        return (fold(name), fold(maker or "")) if found is None else found

    return joint(sheet, ("model", "maker"), "model", identity)


def _tell_nominals(state: State, sheet: Sheet) -> None:
    """Let readings be compared with the nominal speed of new and changed models."""
    facts = state.shared.setdefault("model_facts", [])
    columns = ("kind", "drive_type", "nominal_speed")
    for row in sheet.open_rows():
        kind, *rest = (sheet.values[column][row] for column in columns)
        facts.append((sheet.refs[row], kind or DEFAULT_KIND, *rest))
