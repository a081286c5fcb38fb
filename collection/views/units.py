"""Units as of a day: what each is, whose, where, in which standing; and a unit by its tag."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.errors import Refused, fold, nearest, typed
from collection.store.engine import fetch
from collection.views.counts import counts

ON_LOAN = "on loan"
LOST = ("missing", "gone")


@dataclass(frozen=True, slots=True)
class Loan:
    """An open loan out: its name, who has the unit, and the (partial) days it began and shall end."""

    name: str
    person: str
    out_on: str
    due_on: str


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit on one day.

    Empty text stands for what is not known. standing_from: since which (partial) day. loan: the open loan
    out, if any.
    """

    id: int
    tag: str
    kind: str
    maker: str
    model: str
    model_id: int
    drive_type: str
    nominal_speeds: str
    serial: str
    acquired_on: str
    owner: str
    location: str
    standing: str
    standing_from: str
    loan: Loan | None


_ENTRY = (
    "(SELECT e.id FROM unit_entry e WHERE e.unit_id = u.id AND e.what = '{what}' AND e.from_date <= :day AND "
    + counts("e")
    + " ORDER BY e.from_date DESC, e.id DESC LIMIT 1) AS {what}_entry"
)
_ENTRIES = ", ".join(_ENTRY.format(what=what) for what in ("owner", "location", "standing"))
UNITS_SQL = f"""
SELECT u.id, u.tag, m.kind, m.maker, m.name, m.id, m.drive_type, m.nominal_speeds, u.serial, u.acquired_on,
       person.name, location.name, standing.standing, standing.from_date
FROM (SELECT u.id, u.tag, u.model_id, u.serial, u.acquired_on, {_ENTRIES}
      FROM unit u WHERE u.void = 0{{only}}) u
JOIN model m ON m.id = u.model_id
LEFT JOIN unit_entry owner ON owner.id = u.owner_entry
LEFT JOIN unit_entry place ON place.id = u.location_entry
LEFT JOIN unit_entry standing ON standing.id = u.standing_entry
LEFT JOIN person ON person.id = owner.person_id
LEFT JOIN location ON location.id = place.location_id
"""
# A tag comes before an alias of the same name.
_FIND_SQL = """
SELECT u.id, u.tag, u.model_id, u.version FROM unit u
WHERE u.void = 0 AND (u.tag_folded = :tag OR u.id IN (
    SELECT a.unit_id FROM unit_alias a WHERE a.alias_folded = :tag AND a.void = 0))
ORDER BY CASE u.tag_folded WHEN :tag THEN 0 ELSE 1 END LIMIT 1
"""
LOANS_SQL = """
SELECT i.unit_id, l.name, p.name, l.out_on, l.due_on
FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0 AND l.direction = 'out' AND l.out_on <= :day
  AND (i.back_on IS NULL OR i.back_on > :day)
ORDER BY l.out_on, i.id
"""


def unit_list(conn: Connection, day: date) -> list[Unit]:
    """Return every unit as of `day`, in the order of their tags (D2 before D10)."""
    rows = fetch(conn, UNITS_SQL.format(only=""), day=day.isoformat())
    loans = open_loans(conn, day)
    return sorted((_unit(row, loans.get(row[0])) for row in rows), key=lambda unit: tag_order(unit.tag))


def open_loans(conn: Connection, day: date) -> dict[int, Loan]:
    """Return the loan out that is open on `day` for each unit that is away on one."""
    return {row[0]: Loan(*row[1:]) for row in fetch(conn, LOANS_SQL, day=day.isoformat())}


def unit_on(conn: Connection, unit_id: int, day: date) -> Unit:
    """Return one unit as of `day`."""
    row = fetch(conn, UNITS_SQL.format(only=" AND u.id = :id"), day=day.isoformat(), id=unit_id)[0]
    return _unit(row, open_loans(conn, day).get(unit_id))


class Found(NamedTuple):
    """The unit that a tag or an alias names, with the version of its record."""

    id: int
    tag: str
    model_id: int
    version: int


def find_unit(conn: Connection, tag: str) -> Found:
    """Return the unit that has this tag or alias. Raises Refused, naming the nearest tags."""
    found = fetch(conn, _FIND_SQL, tag=fold(tag))
    if not found:
        raise unknown_tag(tag, (row[0] for row in fetch(conn, "SELECT tag FROM unit WHERE void = 0")))
    return Found(*found[0])


def alias_of(conn: Connection, unit_id: int, tag: str) -> int | None:
    """Return the row by which a unit is found under a name that is not its tag; None where it has no such alias."""
    sql = "SELECT id FROM unit_alias WHERE void = 0 AND unit_id = :unit AND alias_folded = :alias"
    found = fetch(conn, sql, unit=unit_id, alias=fold(tag))
    return int(found[0][0]) if found else None


def refuse_gone(unit: Unit) -> None:
    """Refuse to look a unit over that is gone: nobody has it."""
    if unit.standing == "gone":
        raise Refused(
            f"{unit.tag} is gone since {unit.standing_from}, and nobody can look at it.",
            f'If it is here again: spindlebook unit enter {typed(unit.tag)} --standing "on the bench"',
        )


def unknown_tag(tag: str, known: Iterable[str]) -> Refused:
    """Return the refusal of a tag that no unit has."""
    near = nearest(tag, known)
    hint = f"Nearest: {', '.join(near)}." if near else "Type: spindlebook unit list"
    return Refused(f'No unit has the tag "{tag}".', hint)


def unit_ids(conn: Connection) -> dict[str, int]:
    """Return the unit of every folded tag and alias, for looking up many."""
    aliases = fetch(conn, "SELECT alias_folded, unit_id FROM unit_alias WHERE void = 0")
    tags = fetch(conn, "SELECT tag_folded, id FROM unit WHERE void = 0")
    return {row[0]: row[1] for row in (*aliases, *tags)}


def _unit(row: Sequence[Any], loan: Loan | None) -> Unit:
    known: list[Any] = ["" if value is None else value for value in row]
    standing, since = known[12], known[13]
    if loan is not None and not (standing in LOST and since >= loan.out_on):
        standing, since = ON_LOAN, loan.out_on
    known[12:] = standing, since, loan
    return Unit(*known)
