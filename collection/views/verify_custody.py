"""Rules of what a collection answers for: what was taken at checks, what was seen on a shelf, and what left."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.broken import Broken
from collection.views.counts import counts
from collection.views.exits import not_gone

_OF_ITS_UNIT = "what was taken at a condition check is of its unit and day"


def what_was_taken_at_a_check_is_of_its_unit(connection: Connection) -> Iterator[Broken]:
    """Readings and pictures of a condition check are of the unit that was checked, the readings of that day."""
    readings = (
        "SELECT r.id, r.taken_on, c.checked_on FROM reading r JOIN series s ON s.id = r.series_id"
        " JOIN condition_check c ON c.id = r.check_id"
        f" WHERE r.check_id IS NOT NULL AND (s.unit_id <> c.unit_id OR r.taken_on <> c.checked_on) AND {counts('r')}"
    )
    for row, taken_on, checked_on in fetch(connection, readings):
        yield Broken(_OF_ITS_UNIT, "reading", row, f"read on {taken_on}, checked on {checked_on}, or of another unit")
    pictures = (
        "SELECT a.id FROM attachment a JOIN condition_check c ON c.id = a.check_id"
        " WHERE a.void = 0 AND (a.unit_id IS NULL OR a.unit_id <> c.unit_id)"
    )
    for (row,) in fetch(connection, pictures):
        yield Broken(_OF_ITS_UNIT, "attachment", row, "the check is of another unit")


def a_check_of_a_loan_is_of_what_was_lent(connection: Connection) -> Iterator[Broken]:
    """A condition check at the beginning or end of a loan is of the unit that was lent."""
    sql = (
        "SELECT c.id FROM condition_check c JOIN loan_item i ON i.id = c.loan_item_id"
        f" WHERE i.unit_id <> c.unit_id AND {counts('c')}"
    )
    for (row,) in fetch(connection, sql):
        yield Broken("a check of a loan is of what was lent", "condition_check", row, "the loan is of another unit")


def no_safety_check_ends_before_it_was_made(connection: Connection) -> Iterator[Broken]:
    """An electrical safety check is good through no day before it; "2026" may be any day of that year."""
    sql = (
        "SELECT c.id, c.checked_on, c.good_through FROM safety_check c"
        f" WHERE substr(c.good_through, 1, length(c.checked_on)) < c.checked_on AND {counts('c')}"
    )
    for row, checked_on, good_through in fetch(connection, sql):
        says = f"checked_on {checked_on}, good_through {good_through}"
        yield Broken("nothing ends before it begins", "safety_check", row, says)


def what_was_seen_at_a_shelf_check_was_seen_there_and_then(connection: Connection) -> Iterator[Broken]:
    """A sighting of a shelf-check has its day, its location and its act."""
    sql = (
        "SELECT s.id, s.seen_on, c.checked_on FROM sighting s JOIN shelf_check c ON c.id = s.shelf_check_id"
        " WHERE s.seen_on <> c.checked_on OR s.location_id IS NULL OR s.location_id <> c.location_id"
        " OR s.act_id <> c.act_id"
    )
    for row, seen_on, checked_on in fetch(connection, sql):
        says = f"seen on {seen_on}, checked on {checked_on}, or at another place"
        yield Broken("what was seen at a shelf-check was seen there and then", "sighting", row, says)


def what_left_was_gone_then(connection: Connection) -> Iterator[Broken]:
    """A unit of which a disposal is told stood gone on that day; it may be here again since."""
    for row in not_gone(connection):
        says = f"{row.tag} does not stand gone on {row.left_on}"
        yield Broken("what left for good was gone then", "unit_exit", row.id, says)


RULES: tuple[Callable[[Connection], Iterator[Broken]], ...] = (
    what_was_taken_at_a_check_is_of_its_unit,
    a_check_of_a_loan_is_of_what_was_lent,
    no_safety_check_ends_before_it_was_made,
    what_was_seen_at_a_shelf_check_was_seen_there_and_then,
    what_left_was_gone_then,
)
