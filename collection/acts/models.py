"""The model of a unit: found by maker and name, or made where its kind is told."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from collection.acts.work import Work
from collection.analysis.measures import parse_speeds
from collection.errors import Refused, fold, nearest
from collection.schema.columns import SHORT
from collection.schema.equipment import DRIVE_TYPES
from collection.store.engine import fetch


class Model(NamedTuple):
    """A model by id and full name; new: it was made just now."""

    id: int
    name: str
    new: bool


def find_model(work: Work, given: Mapping[str, str]) -> Model:
    """Return the model told by `model` and `maker`; make it where `kind` is told and there is none.

    Also told of a new one: drive_type, nominal_speed (r/min, several by ;). Raises Refused for a name that
    several makers have, an unknown one without a kind, and words or speeds that are none.
    """
    name, maker = given.get("model", "").strip(), given.get("maker", "").strip()
    if not name:
        raise Refused("A unit needs a model.", "Add --model NAME (and --kind drive if it is new).")
    sql = "SELECT id, maker, name FROM model WHERE void = 0 AND name_folded = :name ORDER BY id"
    rows = [row for row in fetch(work.conn, sql, name=fold(name)) if not maker or fold(row[1]) == fold(maker)]
    if len(rows) > 1:
        makers = ", ".join(row[1] for row in rows)
        raise Refused(f'{len(rows)} makers have a model "{name}": {makers}.', "Add --maker NAME.")
    if rows:
        return Model(rows[0][0], f"{rows[0][1]} {rows[0][2]}".strip(), new=False)
    if not given.get("kind"):
        raise _unknown(work, name)
    return _make(work, name, maker, given)


def _unknown(work: Work, name: str) -> Refused:
    known = (row[0] for row in fetch(work.conn, "SELECT name FROM model WHERE void = 0"))
    near = nearest(name, known)
    hint = f"Nearest: {', '.join(near)}. " if near else ""
    return Refused(f'There is no model "{name}".', f"{hint}If it is new, add --kind drive (or another kind).")


def _make(work: Work, name: str, maker: str, given: Mapping[str, str]) -> Model:
    for what, text in (("model", name), ("maker", maker), ("kind", given["kind"])):
        if len(text) > SHORT:
            raise Refused(f"{what} has {len(text)} characters; at most {SHORT} are kept.", "Shorten it.")
    made = work.insert(
        "model",
        maker=maker,
        maker_folded=fold(maker),
        name=name,
        name_folded=fold(name),
        kind=fold(given["kind"]),
        drive_type=_drive_type(given.get("drive_type", "")),
        nominal_speeds=_speeds(given.get("nominal_speed", "")),
    )
    return Model(made, f"{maker} {name}".strip(), new=True)


def _drive_type(text: str) -> str | None:
    if not text:
        return None
    for word in DRIVE_TYPES:
        if fold(word) == fold(text):
            return word
    raise Refused(f'Drive type "{text}" is not known.', f"Type one of: {', '.join(DRIVE_TYPES)}.")


def _speeds(text: str) -> str | None:
    if not text:
        return None
    parse_speeds(text)
    return "; ".join(part.strip() for part in text.split(";") if part.strip())
