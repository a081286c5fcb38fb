"""Procedures found by name, and the cautions that stand before their work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy.engine import Connection

from collection.analysis.procedures import ProcedureRule
from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch
from collection.views.lot_age import age_cautions
from collection.views.procedure_rules import procedure_rules
from collection.views.supplies import supply_list
from collection.views.units import Unit

QUALIFIED = "Where local rules ask for a qualified person, they decide, not this sheet."


@dataclass(frozen=True, slots=True)
class Procedure:
    """A procedure as its sheet says it; retests are spelled as on the sheet."""

    id: int
    name: str
    revision: int
    retests: tuple[str, ...]
    cautions: tuple[str, ...]
    rule: ProcedureRule

    def fits(self, unit: Unit) -> bool:
        """Say whether the procedure is for this unit; it may be where the drive type is not known."""
        if self.rule.applies(unit.kind, unit.drive_type, unit.maker, unit.model):
            return True
        return unit.kind == "drive" and unit.drive_type in ("", "unknown")


@dataclass(frozen=True, slots=True)
class Caution:
    """What stands before the work, once; of: the supplies it speaks of, none for a caution of a procedure."""

    text: str
    of: tuple[str, ...]


def procedure_list(conn: Connection) -> list[Procedure]:
    """Return every procedure, in the order of work."""
    rules = {rule.id: rule for rule in procedure_rules(conn)}
    rows = fetch(conn, "SELECT id, name, revision, retests, cautions FROM procedure WHERE void = 0 ORDER BY id")
    return [Procedure(row[0], row[1], row[2], _parts(row[3], ";"), _parts(row[4], "\n"), rules[row[0]]) for row in rows]


def find_procedures(conn: Connection, names: Iterable[str]) -> list[Procedure]:
    """Return the procedures of these names, each once. Raises Refused, naming the nearest."""
    by_name = {fold(each.name): each for each in procedure_list(conn)}
    found: dict[int, Procedure] = {}
    for name in names:
        procedure = by_name.get(fold(name))
        if procedure is None:
            raise _unknown(name, [each.name for each in by_name.values()])
        found[procedure.id] = procedure
    return list(found.values())


def procedures_reading(conn: Connection, measurement: str) -> list[Procedure]:
    """Return the procedures that read a measurement and set nothing; where there is none, all that measure it again."""
    reading = [each for each in procedure_list(conn) if fold(measurement) in map(fold, each.retests)]
    return [each for each in reading if not each.rule.resets] or reading


def cautions_before(
    conn: Connection, procedures: Sequence[Procedure], supplies: Iterable[tuple[str, str]] = ()
) -> list[Caution]:
    """Return the cautions of procedures, of what their sheets use up, and of other supplies (name, kind).

    Lots of unknown age among those supplies have one of their own.
    """
    texts = [text for procedure in procedures for text in procedure.cautions]
    own = {fold(text): text for text in reversed(texts)}
    of_supplies: dict[str, list[str]] = {}
    by_kind = supply_cautions(conn)
    known = {supply.name: supply for supply in supply_list(conn)}
    used = dict.fromkeys([*_on_sheets(conn, procedures), *supplies])
    for name, kind in used:
        for text in by_kind.get(fold(kind), ()):
            if fold(text) not in own:
                of_supplies.setdefault(text, []).append(name)
    return [
        *(Caution(text, ()) for text in dict.fromkeys(own[fold(text)] for text in texts)),
        *(Caution(text, tuple(names)) for text, names in of_supplies.items()),
        *(Caution(text, (name,)) for name, _ in used for text in age_cautions(conn, known[name])),
    ]


def caution_texts(cautions: Iterable[Caution]) -> list[str]:
    """Return cautions as they stand before the work: last that it is not for a sheet to say who may do it."""
    texts = [f"{'; '.join(each.of)}: {each.text}" if each.of else each.text for each in cautions]
    return [*(text for text in texts if text != QUALIFIED), QUALIFIED] if texts else []


def supply_cautions(conn: Connection) -> dict[str, list[str]]:
    """Return the cautions of every kind of supply, by folded kind."""
    found: dict[str, list[str]] = {}
    for kind, text in fetch(conn, "SELECT kind, caution FROM supply_caution WHERE void = 0 ORDER BY id"):
        found.setdefault(fold(kind), []).append(text)
    return found


def _on_sheets(conn: Connection, procedures: Sequence[Procedure]) -> list[tuple[str, str]]:
    wanted = {procedure.id for procedure in procedures}
    sql = (
        "SELECT a.procedure_id, s.name, s.kind FROM amount a JOIN supply s ON s.id = a.supply_id"
        " WHERE a.void = 0 AND s.void = 0 ORDER BY a.id"
    )
    return [(name, kind) for procedure_id, name, kind in fetch(conn, sql) if procedure_id in wanted]


def _unknown(name: str, known: Sequence[str]) -> Refused:
    near = nearest(name, known)
    hint = f"Nearest: {', '.join(near)}." if near else f"Type one of: {', '.join(known)}."
    return Refused(f'There is no procedure "{name}".', hint)


def _parts(text: str | None, mark: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in (text or "").split(mark) if part.strip())
