"""Rules of lending: what is kept for whom, and deposits."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.broken import Broken


def a_unit_is_out_once(connection: Connection) -> Iterator[Broken]:
    """No unit stands on two loans out, or on two loans in, on one day; one that was borrowed may be lent on.

    A loan may begin on the day on which the one before ended; of which only the month is known may be any day of it.
    """
    sql = (
        "WITH away AS (SELECT i.id, i.unit_id, u.tag, l.direction, l.name, l.out_on,"
        " coalesce(i.back_on, '9999') AS back_on FROM loan_item i JOIN loan l ON l.id = i.loan_id"
        " JOIN unit u ON u.id = i.unit_id WHERE i.void = 0 AND l.void = 0)"
        " SELECT b.id, b.tag, b.name, a.name, a.out_on, a.back_on FROM away a"
        " JOIN away b ON b.unit_id = a.unit_id AND b.direction = a.direction AND b.id > a.id"
        " WHERE substr(a.out_on, 1, length(b.back_on)) < substr(b.back_on, 1, length(a.out_on))"
        " AND substr(b.out_on, 1, length(a.back_on)) < substr(a.back_on, 1, length(b.out_on)) ORDER BY b.id, a.id"
    )
    for row, tag, loan, other, out_on, back_on in fetch(connection, sql):
        until = "and is not back" if back_on == "9999" else f"to {back_on}"
        says = f"{tag} is on loan {loan} while it is on loan {other} from {out_on} {until}"
        yield Broken("a unit is out on one loan at a time", "loan_item", row, says)


def a_unit_is_kept_for_one_at_a_time(connection: Connection) -> Iterator[Broken]:
    """Two reservations of a unit that stand share no day."""
    sql = (
        "SELECT r.id, s.from_date, s.to_date FROM reservation r JOIN reservation s ON s.unit_id = r.unit_id"
        " WHERE r.void = 0 AND s.void = 0 AND r.closed_on IS NULL AND s.closed_on IS NULL AND s.id < r.id"
        " AND r.from_date <= s.to_date AND s.from_date <= r.to_date"
    )
    for row, first, last in fetch(connection, sql):
        says = f"another reservation of the unit is from {first} to {last}"
        yield Broken("a unit is kept for one at a time", "reservation", row, says)


def a_reservation_became_a_loan_of_its_unit(connection: Connection) -> Iterator[Broken]:
    """A reservation that was closed by a loan out has its unit on it."""
    sql = (
        "SELECT r.id, l.name FROM reservation r JOIN loan l ON l.id = r.loan_id"
        " WHERE r.void = 0 AND (l.direction <> 'out' OR NOT EXISTS"
        " (SELECT 1 FROM loan_item i WHERE i.void = 0 AND i.loan_id = l.id AND i.unit_id = r.unit_id))"
    )
    for row, loan in fetch(connection, sql):
        yield Broken("a reservation becomes a loan of its unit", "reservation", row, f"loan {loan} is none of it")


def no_deposit_goes_back_before_it_came(connection: Connection) -> Iterator[Broken]:
    """No more of a deposit goes back than was taken, and on no day before the loan began."""
    sql = (
        "SELECT id, deposit_minor, deposit_back_minor, out_on, deposit_back_on FROM loan WHERE void = 0"
        " AND ((deposit_back_on IS NULL) <> (deposit_back_minor IS NULL)"
        " OR deposit_back_minor > coalesce(deposit_minor, 0)"
        " OR substr(deposit_back_on, 1, length(out_on)) < out_on)"
    )
    for row, taken, back, out_on, back_on in fetch(connection, sql):
        says = f"deposit {taken} of {out_on}, {back} went back {back_on}"
        yield Broken("a deposit goes back once, at most all of it", "loan", row, says)


RULES: tuple[Callable[[Connection], Iterator[Broken]], ...] = (
    a_unit_is_out_once,
    a_unit_is_kept_for_one_at_a_time,
    a_reservation_became_a_loan_of_its_unit,
    no_deposit_goes_back_before_it_came,
)
