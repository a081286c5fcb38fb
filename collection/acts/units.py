"""Units: adding one, changing its record, entering owner, location and standing by date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.amounts import currency_given, price_given
from collection.acts.days import past_day
from collection.acts.edit import label
from collection.acts.entries import Entered, Standing, enter_location, enter_owner, enter_standing
from collection.acts.models import find_model
from collection.acts.work import Work, open_work
from collection.analysis.serials import odd_serial
from collection.errors import Refused, fold, typed
from collection.quantity import Money, parse_day, parse_number
from collection.schema.columns import LONG, SHORT
from collection.schema.equipment import SERIAL_STATES
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.people import find_person
from collection.views.units import Found, alias_of, find_unit, unit_on

Given = Mapping[str, str]
ARRIVED = "arrived"
_LAST_RANK = 10_000
_TEXTS = dict.fromkeys(("serial", "rom", "drive_number", "acquired_how"), SHORT) | dict.fromkeys(
    (
        "condition", "marks", "jumpers", "modifications", "accessories", "box", "note", "title_evidence", "rescue_note",
    ),
    LONG,
)  # fmt: skip

_NAMES = {
    "model_id": "SELECT trim(maker || ' ' || name) FROM model WHERE id = :id",
    "acquired_from_id": "SELECT name FROM person WHERE id = :id",
}


@dataclass(frozen=True, slots=True)
class Added:
    """A new unit: its tag, its model (new to the book or not), and the doubts about it."""

    tag: str
    model: str
    new_model: bool
    standing: str
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Edited:
    """What changed in the record of a unit: column, before, after; and the doubts about it."""

    tag: str
    changes: tuple[tuple[str, str, str], ...]
    doubts: tuple[str, ...]


def add_unit(
    engine: Engine,
    tag: str,
    given: Given,
    *,
    on: str = "",
    reason: str = "",
    new_location: bool = False,
    today: date,
    now: datetime,
) -> Added:
    """Add a unit by the column names of the folder; it has arrived unless another standing is given.

    An unknown model is made where its kind is given. Raises Refused for a tag given before, unknown names,
    impossible days and amounts.
    """
    with open_work(engine, "unit add", today=today, now=now, reason=reason or None) as work:
        day = past_day(on, today, "--on")
        unit_id, added = new_unit(work, tag, given)
        if given.get("owner"):
            enter_owner(work, unit_id, given["owner"], day)
        if given.get("location"):
            enter_location(work, unit_id, given["location"], day, new=new_location)
        unit = unit_on(work.conn, unit_id, today)
        standing = enter_standing(work, unit, Standing(given.get("standing") or ARRIVED, day, reason))
        work.commit(f"added {added.tag}, a {added.model}")
    return replace(added, standing=standing)


def new_unit(work: Work, tag: str, given: Given) -> tuple[int, Added]:
    """Write the record of a new unit, without owner, location and standing. Raises Refused as `add_unit` does."""
    tag = _free_tag(work, tag)
    model = find_model(work, given)
    columns = _columns(work, given)
    unit_id = work.insert("unit", tag=tag, tag_folded=fold(tag), model_id=model.id, **columns)
    return unit_id, Added(tag, model.name, model.new, "", _doubts(work, unit_id, model.id, columns))


def edit_unit(
    engine: Engine,
    tag: str,
    given: Given,
    *,
    aliases: tuple[str, ...] = (),
    reason: str = "",
    today: date,
    now: datetime,
) -> Edited:
    """Change what the record of a unit says; an empty text takes a value away, equal values change nothing.

    A unit that gets another tag keeps its old one as an alias; it may be one that it had before. Raises
    Refused as `add_unit` does.
    """
    with open_work(engine, "unit edit", today=today, now=now, reason=reason or None) as work:
        unit = find_unit(work.conn, tag)
        edited = change_unit(work, unit, given, aliases)
        if edited.changes:
            work.commit(f"{unit.tag}: changed {', '.join(label(name) for name, _, _ in edited.changes)}")
    return edited


def change_unit(work: Work, unit: Found, given: Given, aliases: tuple[str, ...] = ()) -> Edited:
    """Change the record of a unit. Raises Refused as `add_unit` does."""
    columns = _columns(work, given)
    if given.get("model"):
        columns["model_id"] = find_model(work, given).id
    if given.get("tag") and given["tag"].strip() != unit.tag:
        columns |= _new_tag(work, unit.id, unit.tag, given["tag"])
    changes = _differences(work, unit.id, columns)
    changes += [("alias", "", _alias(work, unit.id, alias)) for alias in aliases]
    if columns:
        work.update("unit", unit.id, **columns)
    doubts = _doubts(work, unit.id, columns.get("model_id", unit.model_id), columns) if changes else ()
    return Edited(str(columns.get("tag", unit.tag)), tuple(changes), doubts)


def enter(
    engine: Engine,
    tag: str,
    *,
    owner: str = "",
    location: str = "",
    standing: str = "",
    on: str = "",
    by: str = "",
    reason: str = "",
    new_location: bool = False,
    today: date,
    now: datetime,
) -> list[Entered]:
    """Enter a new owner, location or standing from a day on; what holds already is not entered again.

    by: who moved it, or uses it from then on.
    Raises Refused for unknown names, a day that has not come, and a standing that cannot be (see
    `enter_standing`).
    """
    with open_work(engine, "unit enter", today=today, now=now, reason=reason or None) as work:
        day = past_day(on, today, "--on")
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, min(today, parse_day(day).last))
        by_id = find_person(work.conn, by).id if by else None
        made: dict[str, str] = {}
        if owner and fold(owner) != fold(unit.owner):
            made["owner"] = enter_owner(work, unit.id, owner, day, reason)
        if location and fold(location) != fold(unit.location):
            made["location"] = enter_location(work, unit.id, location, day, reason, new=new_location, by_id=by_id)
        if standing and fold(standing) != unit.standing:
            made["standing"] = enter_standing(work, unit, Standing(standing, day, reason), by_id=by_id)
        now_is = unit_on(work.conn, unit.id, today)
        entered = [Entered(what, getattr(unit, what), after, getattr(now_is, what)) for what, after in made.items()]
        if entered:
            # No name of a person stands in a summary: it is sealed, and people can be forgotten.
            said = ", ".join(one.what if one.what == "owner" else f"{one.what} {one.after}" for one in entered)
            work.commit(f"{unit.tag}: {said} from {day}")
    return entered


def _free_tag(work: Work, tag: str) -> str:
    """Return the tag as it is kept. Raises Refused for an empty, overlong or given one."""
    tag = _text("tag", tag, SHORT)
    if not tag:
        raise Refused("A unit needs a tag.", "Type: spindlebook unit add D1 --model NAME")
    taken = fetch(
        work.conn,
        "SELECT u.tag FROM unit u WHERE u.void = 0 AND (u.tag_folded = :tag OR u.id IN"
        " (SELECT a.unit_id FROM unit_alias a WHERE a.alias_folded = :tag AND a.void = 0))",
        tag=fold(tag),
    )
    if taken:
        also = "" if fold(taken[0][0]) == fold(tag) else f" (now {taken[0][0]})"
        raise Refused(
            f'Tag "{tag}" was given to a unit before{also}; no tag is given twice.',
            f"Choose another, or see: spindlebook unit show {typed(tag)}",
        )
    return tag


def _new_tag(work: Work, unit_id: int, old: str, new: str) -> dict[str, Any]:
    """Return the columns of another tag, and keep the old one as an alias: in the place of the new, if it was one."""
    new = _text("tag", new, SHORT)
    kept: dict[str, Any] = {"alias": old, "alias_folded": fold(old)}
    if fold(old) != fold(new):
        if own := alias_of(work.conn, unit_id, new):
            work.update("unit_alias", own, **kept)
        else:
            new = _free_tag(work, new)
            work.insert("unit_alias", unit_id=unit_id, **kept)
    return {"tag": new, "tag_folded": fold(new)}


def _alias(work: Work, unit_id: int, alias: str) -> str:
    alias = _free_tag(work, alias)
    work.insert("unit_alias", unit_id=unit_id, alias=alias, alias_folded=fold(alias))
    return alias


def _columns(work: Work, given: Given) -> dict[str, Any]:
    """Return the columns of the unit's own record that were told, as they are stored."""
    columns: dict[str, Any] = {
        name: _text(name, given[name], most) or None for name, most in _TEXTS.items() if name in given
    }
    if "serial" in columns:
        columns["serial_folded"] = fold(columns["serial"]) if columns["serial"] else None
        columns["serial_state"] = "known" if columns["serial"] else None
    if given.get("serial_state"):
        columns["serial_state"] = _one_of("serial_state", given["serial_state"], SERIAL_STATES)
    if "acquired_on" in given:
        columns["acquired_on"] = given["acquired_on"] and past_day(given["acquired_on"], work.today, "--acquired-on")
        columns["acquired_on"] = columns["acquired_on"] or None
    if "acquired_from" in given:
        person = given["acquired_from"]
        columns["acquired_from_id"] = find_person(work.conn, person).id if person else None
    if "rescue_rank" in given:
        columns["rescue_rank"] = _rank(given["rescue_rank"]) if given["rescue_rank"].strip() else None
    return columns | _price(work, given)


def _rank(text: str) -> int:
    """Return the place in which a unit is carried out. Raises Refused for what is no whole number from 1 on."""
    number = parse_number(text)
    if number != int(number) or not 1 <= number <= _LAST_RANK:
        raise Refused(
            f"--rescue-rank {text.strip()} is no place in a row: it is a whole number from 1 to {_LAST_RANK}.",
            "Type 1 for what is carried out first.",
        )
    return int(number)


def _price(work: Work, given: Given) -> dict[str, Any]:
    if "price" not in given:
        return {}
    if not given["price"]:
        return {"price_minor": None, "currency": None}
    currency = currency_given(given.get("currency", ""), open_book(work.conn).settings.currency)
    price = price_given("A price", given["price"], currency)
    return {"price_minor": price.minor, "currency": currency}


def _text(name: str, value: str, most: int) -> str:
    value = value.strip()
    if len(value) > most:
        raise Refused(f"{name} has {len(value)} characters; at most {most} are kept.", "Shorten it.")
    return value


def _one_of(name: str, value: str, words: tuple[str, ...]) -> str:
    if fold(value) not in words:
        raise Refused(f'{name} "{value}" is not known.', f"Type one of: {', '.join(words)}.")
    return fold(value)


def _differences(work: Work, unit_id: int, columns: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return name, before and after of every column that would change, in words."""
    if not columns:
        return []
    row = fetch(work.conn, f"SELECT {', '.join(columns)} FROM unit WHERE id = :id", id=unit_id)[0]
    before, after = dict(zip(columns, row, strict=True)), dict(columns)
    for record in (before, after):
        if record.get("price_minor") is not None:
            record["price_minor"] = Money(record["price_minor"], record["currency"])
        for name, sql in _NAMES.items():
            if record.get(name) is not None:
                record[name] = fetch(work.conn, sql, id=record[name])[0][0]
    return [
        (name.removesuffix("_id").removesuffix("_minor"), _shown(before[name]), _shown(after[name]))
        for name in columns
        if before[name] != after[name] and not name.endswith("_folded")
    ]


def _shown(value: Any) -> str:
    if isinstance(value, Money):
        return value.text
    return "" if value is None else str(value)


def _doubts(work: Work, unit_id: int, model_id: int, columns: Mapping[str, Any]) -> tuple[str, ...]:
    """Mark a serial that is odd, or that another unit of the model has; return what was marked."""
    serial = columns.get("serial")
    if not serial:
        return ()
    said = [odd_serial(serial, columns.get("serial_state"))]
    sql = (
        "SELECT tag FROM unit WHERE void = 0 AND model_id = :model AND serial_folded = :serial AND id <> :id"
        " ORDER BY id LIMIT 1"
    )
    said += [
        f"unit {row[0]} of the same model has this serial too"
        for row in fetch(work.conn, sql, model=model_id, serial=fold(serial), id=unit_id)
    ]
    rules = tuple(rule for rule in said if rule)
    for rule in rules:
        work.doubt("unit", unit_id, "serial", serial, rule)
    return rules
