"""All that the book keeps of one person: their data, loans, units, what they did, and how often."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.store.engine import fetch
from collection.views.loans import LoanRow, loan_list
from collection.views.people import Person, find_person

_COUNTS = "NOT IN (SELECT act_id FROM undone)"
# What refers to a person, in the words in which it is counted: one, several, and the query.
_KEPT = (
    ("service", "services", "service WHERE by_id = :id AND void = 0"),
    ("fault noticed", "faults noticed", "fault WHERE by_id = :id AND void = 0"),
    ("unit that came from them", "units that came from them", "unit WHERE acquired_from_id = :id AND void = 0"),
    ("arrival from them", "arrivals from them", "arrival WHERE from_id = :id AND void = 0"),
    ("check of a tool", "checks of tools", f"inspection WHERE by_id = :id AND act_id {_COUNTS}"),
    ("condition check", "condition checks", f"condition_check WHERE by_id = :id AND act_id {_COUNTS}"),
    ("safety check", "safety checks", f"safety_check WHERE by_id = :id AND act_id {_COUNTS}"),
    ("shelf-check", "shelf-checks", f"shelf_check WHERE by_id = :id AND act_id {_COUNTS}"),
    ("sighting", "sightings", f"sighting WHERE by_id = :id AND act_id {_COUNTS}"),
    ("unit moved", "units moved", f"unit_entry WHERE by_id = :id AND act_id {_COUNTS}"),
    ("valuation", "valuations", f"valuation WHERE by_id = :id AND act_id {_COUNTS}"),
    ("reservation", "reservations", "reservation WHERE person_id = :id AND void = 0"),
    ("loan handed out", "loans handed out", "loan WHERE issued_by_id = :id AND void = 0"),
    ("unit taken back", "units taken back", "loan_item WHERE taken_by_id = :id AND void = 0"),
    ("damage reported", "damages reported", "damage WHERE reported_by_id = :id AND void = 0"),
    ("damage noted", "damages noted", "damage WHERE by_id = :id AND void = 0"),
    ("unit that went to them", "units that went to them", "unit_exit WHERE to_id = :id AND void = 0"),
    ("disposal decided", "disposals decided", "unit_exit WHERE authority_id = :id AND void = 0"),
    ("earlier state of these data", "earlier states of these data", "person WHERE former_of_id = :id"),
)  # fmt: skip
_OWNED = f"""
SELECT u.tag, m.name, e.person_id, e.from_date, e.unit_id
FROM unit_entry e JOIN unit u ON u.id = e.unit_id JOIN model m ON m.id = u.model_id
WHERE e.what = 'owner' AND e.from_date <= :day AND u.void = 0 AND e.act_id {_COUNTS} ORDER BY e.from_date, e.id
"""


@dataclass(frozen=True, slots=True)
class Owned:
    """A span in which a unit was theirs; until is "" while it is. Days are (partial) day texts."""

    tag: str
    model: str
    since: str
    until: str


@dataclass(frozen=True, slots=True)
class PersonHistory:
    """What the book keeps of a person; kept: (how many, of what) for all but loans and units owned."""

    person: Person
    loans: list[LoanRow]
    owned: list[Owned]
    kept: list[tuple[int, str]]


def history_of_person(conn: Connection, name: str, today: date) -> PersonHistory:
    """Return all that is kept of the person of this name, one who was forgotten too. Raises Refused."""
    person = find_person(conn, name, forgotten_too=True)
    loans = [row for row in loan_list(conn, today, closed_too=True) if row.person == person.name]
    counted = [
        (int(fetch(conn, f"SELECT count(*) FROM {sql}", id=person.id)[0][0]), one, many) for one, many, sql in _KEPT
    ]
    kept = [(number, one if number == 1 else many) for number, one, many in counted if number]
    return PersonHistory(person, loans, _owned(conn, person.id, today), kept)


def _owned(conn: Connection, person_id: int, today: date) -> list[Owned]:
    held: dict[int, tuple[str, str, str]] = {}
    found: list[Owned] = []
    for tag, model, owner, since, unit in fetch(conn, _OWNED, day=today.isoformat()):
        if owner == person_id:
            held.setdefault(unit, (tag, model, since))
        elif unit in held:
            found.append(Owned(*held.pop(unit), since))
    found += [Owned(*each, "") for each in held.values()]
    return sorted(found, key=lambda each: (bool(each.until), tag_order(each.tag), each.since))
