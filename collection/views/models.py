"""Models: every one with how many units there are of it, and one found by its name."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.errors import Refused, fold, nearest
from collection.quantity import Money
from collection.store.engine import fetch

_SQL = """
SELECT m.id, m.maker, m.name, m.kind, m.drive_type, m.nominal_speeds, m.speed_adjustable, m.media, m.supply_inside,
       m.replacement_minor, m.currency, m.note,
       (SELECT count(*) FROM unit u WHERE u.model_id = m.id AND u.void = 0)
FROM model m WHERE m.void = 0 ORDER BY m.maker_folded, m.name_folded
"""


class Model(NamedTuple):
    """A model; None for what is not known, speeds in r/min separated by ;. units: how many the book has."""

    id: int
    maker: str
    name: str
    kind: str
    drive_type: str | None
    nominal_speeds: str | None
    speed_adjustable: bool | None
    media: str | None
    supply_inside: bool | None
    replacement: Money | None
    note: str | None
    units: int

    @property
    def full_name(self) -> str:
        """Maker and name."""
        return f"{self.maker} {self.name}".strip()


def model_list(conn: Connection) -> list[Model]:
    """Return every model, by maker and name."""
    return [_model(row) for row in fetch(conn, _SQL)]


def find_model(conn: Connection, name: str, maker: str = "") -> Model:
    """Return the model that "name" or "maker name" names. Raises Refused where there is none, or several."""
    known = model_list(conn)
    sought = fold(f"{maker} {name}")
    found = [model for model in known if fold(model.full_name) == sought]
    found = found or [model for model in known if not maker and fold(model.name) == fold(name)]
    if len(found) == 1:
        return found[0]
    if found:
        makers = ", ".join(model.maker or "no maker" for model in found)
        raise Refused(f'{len(found)} makers have a model "{name}": {makers}.', 'Type it with its maker: "MAKER NAME".')
    near = nearest(name, [each for model in known for each in (model.name, model.full_name)])
    hint = f"Nearest: {', '.join(near)}." if near else "Type: spindlebook model list"
    raise Refused(f'There is no model "{f"{maker} {name}".strip()}".', hint)


def tags_of_model(conn: Connection, model_id: int) -> list[str]:
    """Return the tags of the units of a model, in their order."""
    rows = fetch(conn, "SELECT tag FROM unit WHERE void = 0 AND model_id = :model", model=model_id)
    return sorted((row[0] for row in rows), key=tag_order)


def _model(row: tuple[object, ...]) -> Model:
    known: list[object] = list(row)
    minor, currency = known[9], known[10]
    money = Money(int(str(minor)), str(currency)) if minor is not None and currency else None
    flags = {at: None if known[at] is None else bool(known[at]) for at in (6, 8)}
    for at, flag in flags.items():
        known[at] = flag
    return Model._make((*known[:9], money, known[11], known[12]))
