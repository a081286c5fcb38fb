"""The book against its rules: each rule is one function from a connection to the rows that break it.

Nothing stops at the first broken row. What the journal says is checked in ``verify_journal``.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import isclose

from sqlalchemy.engine import Connection

from collection.analysis.file_kinds import kind_of
from collection.analysis.ledger import Movement
from collection.analysis.ledger_rules import check
from collection.analysis.measures import GRADED
from collection.analysis.turns import parse_turns
from collection.errors import Refused, fold
from collection.schema import EDITABLE, TABLES
from collection.store.engine import fetch
from collection.views import verify_custody, verify_journal, verify_lending, verify_standing
from collection.views.broken import Broken

_NAMED = (
    "location", "measurement", "instrument", "procedure", "supply", "supplier", "shelf_life", "lot", "policy", "person",
    "medium", "damage",
)  # fmt: skip
FOLDED = {
    "model": (("maker", "maker_folded"), ("name", "name_folded")),
    "unit": (("tag", "tag_folded"), ("serial", "serial_folded")),
    "unit_alias": (("alias", "alias_folded"),),
    **dict.fromkeys(_NAMED, (("name", "name_folded"),)),
}
_IN_ORDER = (
    ("service", "opened_on", "closed_on"),
    ("fitted_part", "fitted_on", "removed_on"),
    ("pairing", "from_date", "to_date"),
    ("fault", "noticed_on", "closed_on"),
    ("policy", "from_date", "to_date"),
    ("wanted_part", "wanted_on", "got_on"),
    ("wanted_part", "wanted_on", "dropped_on"),
    ("medium", "from_date", "retired_on"),
    *(("damage", "found_on", f"{what}_on") for what in ("reported", "owner_told", "insurer_told", "settled", "closed")),
    ("arrival", "arrived_on", "return_by"),
    ("arrival", "arrived_on", "receipt_on"),
    ("unit_exit", "left_on", "receipt_on"),
)
_IN_TIME = "nothing ends before it begins"
_JOURNAL = ("act", "change", "seal", "undone", "counter")
_COUNTS = "NOT IN (SELECT act_id FROM undone)"


@dataclass(frozen=True)
class Verified:
    """What a check of the book found: the broken rows, and how much was looked at."""

    broken: list[Broken]
    acts: int
    rules: int


def verify(connection: Connection) -> Verified:
    """Run every rule of the book."""
    broken = [row for rule in RULES for row in rule(connection)]
    return Verified(broken, int(fetch(connection, "SELECT count(*) FROM act")[0][0]), len(RULES))


def database_is_sound(connection: Connection) -> Iterator[Broken]:
    """SQLite's own checks of pages, types and references; PostgreSQL holds its own."""
    if connection.dialect.name != "sqlite":
        return
    for (words,) in fetch(connection, "PRAGMA integrity_check"):
        if words != "ok":
            yield Broken("the file is sound", "book", None, str(words))
    for table, row, parent, _number in fetch(connection, "PRAGMA foreign_key_check"):
        yield Broken("every reference has its row", str(table), row, f"refers to a missing {parent}")


def rows_refer_to_rows_that_count(connection: Connection) -> Iterator[Broken]:
    """A row that counts refers only to rows that count; a series is only a name and counts always."""
    for name, table in sorted(TABLES.items()):
        if name in _JOURNAL:
            continue
        references = sorted((key.parent.name, key.column.table.name) for key in table.foreign_keys)
        looks = [
            f"SELECT '{column}', c.id FROM {name} c JOIN {parent} p ON p.id = c.{column}"
            f" WHERE {_row_counts('c', name)} AND NOT ({_row_counts('p', parent)})"
            for column, parent in references
            if parent not in _JOURNAL and parent != "series" and column != "former_of_id"
        ]
        if not looks:
            continue
        for column, row in fetch(connection, " UNION ALL ".join(looks)):  # in a small book the asking takes longest
            yield Broken("no reference to a record that was taken back", name, row, f"{column} refers to one")


def _row_counts(alias: str, table: str) -> str:
    return f"{alias}.void = 0" if table in EDITABLE else f"{alias}.act_id {_COUNTS}"


def folded_names_fit(connection: Connection) -> Iterator[Broken]:
    """The form in which names are compared follows from the name."""
    for table, pairs in FOLDED.items():
        for shown, folded in pairs:
            for row, name, kept in fetch(connection, f"SELECT id, {shown}, {folded} FROM {table} WHERE void = 0"):
                if kept != (None if name is None else fold(name)):
                    yield Broken("a name is found by its folded form", table, row, f"'{name}' is kept as '{kept}'")


def days_are_in_order(connection: Connection) -> Iterator[Broken]:
    """Nothing ends before it begins."""
    for table, begin, end in _IN_ORDER:
        sql = f"SELECT id, {begin}, {end} FROM {table} WHERE void = 0 AND {end} IS NOT NULL"
        for row, first, last in fetch(connection, sql):
            if _ends_before(first, last):
                yield Broken(_IN_TIME, table, row, f"{begin} {first}, {end} {last}")


def _ends_before(first: str, last: str) -> bool:
    """Say whether a day is certainly before another; "2025" may be any day of that year."""
    return last[: len(first)] < first[: len(last)]


def no_unit_is_back_before_it_went(connection: Connection) -> Iterator[Broken]:
    """A unit comes back from a loan on the day it went out or later."""
    sql = (
        "SELECT i.id, l.out_on, i.back_on FROM loan_item i JOIN loan l ON l.id = i.loan_id"
        " WHERE i.void = 0 AND l.void = 0 AND i.back_on IS NOT NULL"
    )
    for row, out_on, back_on in fetch(connection, sql):
        if _ends_before(out_on, back_on):
            yield Broken(_IN_TIME, "loan_item", row, f"out_on {out_on}, back_on {back_on}")


def readings_fit_their_measurement(connection: Connection) -> Iterator[Broken]:
    """A graded measurement has grades, any other has numbers."""
    sql = (
        "SELECT r.id, m.name, m.measured_in FROM reading r JOIN series s ON s.id = r.series_id"
        " JOIN measurement m ON m.id = s.measurement_id"
        " WHERE (r.grade IS NOT NULL) <> (m.measured_in = :graded)"
    )
    for row, name, measured_in in fetch(connection, sql, graded=GRADED):
        yield Broken("a reading has the form of its measurement", "reading", row, f"{name} is {measured_in}")


def readings_stand_in_services_of_their_unit(connection: Connection) -> Iterator[Broken]:
    """An as-found or as-left reading belongs to a service of the same unit."""
    sql = (
        "SELECT r.id FROM reading r JOIN series s ON s.id = r.series_id JOIN service v ON v.id = r.service_id"
        " WHERE v.unit_id <> s.unit_id"
    )
    for (row,) in fetch(connection, sql):
        yield Broken("a reading belongs to a service of its unit", "reading", row, "the service is another unit's")


def the_ledger_holds(connection: Connection) -> Iterator[Broken]:
    """Every rule of the stock ledger."""
    sql = (
        "SELECT m.id, m.supply_id, m.lot_id, m.location_id, m.kind, m.steps, m.occurred_on, a.at, m.reverses_id,"
        f" m.group_key, m.reason FROM movement m JOIN act a ON a.id = m.act_id WHERE m.act_id {_COUNTS}"
    )
    for found in check(Movement(*row) for row in fetch(connection, sql)):
        yield Broken(found.rule, "movement", found.movement, found.says)


def attachments_are_whole(connection: Connection) -> Iterator[Broken]:
    """The bytes of an attachment have the hash and the size that name them, and are of the kind that is said of it.

    They are read one by one, for they are large.
    """
    import hashlib

    rule = "an attachment is what was attached"
    said = defaultdict(list)
    for row, kind, at in fetch(connection, "SELECT id, media_type, content_id FROM attachment WHERE void = 0"):
        said[at].append((row, kind))
    for row, named, size in fetch(connection, "SELECT id, sha256, size FROM attachment_content ORDER BY id"):
        content = bytes(fetch(connection, "SELECT content FROM attachment_content WHERE id = :row", row=row)[0][0])
        if hashlib.sha256(content).hexdigest() != named or len(content) != size:
            yield Broken(rule, "attachment_content", row, "its bytes have changed")
            continue
        kind = kind_of(content)
        for attachment, told in said[row]:
            if told != kind:
                yield Broken(rule, "attachment", attachment, f"it is called {told}, and is {kind or 'no picture'}")


def turns_are_what_was_typed(connection: Connection) -> Iterator[Broken]:
    """A turned screw was turned as far as the amount beside it spells."""
    sql = f"SELECT id, turns, entered FROM adjustment WHERE act_id {_COUNTS}"
    for row, turns, entered in fetch(connection, sql):
        try:
            same = isclose(turns, parse_turns(entered), rel_tol=1e-9)
        except Refused:
            same = False
        if not same:
            yield Broken("a screw was turned as far as was typed", "adjustment", row, f'"{entered}" is not {turns}')


def lots_are_inspected_when_they_are_there(connection: Connection) -> Iterator[Broken]:
    """A lot is inspected on a day on which it had come, and is good through no day before that."""
    sql = (
        "SELECT i.id, i.inspected_on, i.good_through, l.received_on FROM lot_inspection i JOIN lot l ON l.id = i.lot_id"
        f" WHERE i.act_id {_COUNTS}"
    )
    for row, inspected_on, good_through, received_on in fetch(connection, sql):
        if _ends_before(received_on, inspected_on):
            says = f"received_on {received_on}, inspected_on {inspected_on}"
            yield Broken("a lot is inspected once it is there", "lot_inspection", row, says)
        if good_through is not None and _ends_before(inspected_on, good_through):
            yield Broken(_IN_TIME, "lot_inspection", row, f"inspected_on {inspected_on}, good_through {good_through}")


def orders_come_after_they_were_placed(connection: Connection) -> Iterator[Broken]:
    """Nothing of an order comes, is cancelled or is promised before it was placed, or for a day before the promise."""
    events = (
        "SELECT e.id, o.ordered_on, e.happened_on FROM order_event e JOIN order_line l ON l.id = e.line_id"
        f" JOIN purchase_order o ON o.id = l.order_id WHERE e.act_id {_COUNTS}"
    )
    for row, ordered_on, happened_on in fetch(connection, events):
        if _ends_before(ordered_on, happened_on):
            yield Broken(_IN_TIME, "order_event", row, f"ordered_on {ordered_on}, happened_on {happened_on}")
    promises = (
        "SELECT r.id, o.ordered_on, r.told_on, r.expected_on FROM order_promise r"
        f" JOIN purchase_order o ON o.id = r.order_id WHERE r.act_id {_COUNTS}"
    )
    for row, ordered_on, told_on, expected_on in fetch(connection, promises):
        if _ends_before(ordered_on, told_on) or _ends_before(told_on, expected_on):
            says = f"ordered_on {ordered_on}, told_on {told_on}, expected_on {expected_on}"
            yield Broken(_IN_TIME, "order_promise", row, says)


def what_came_by_an_order_is_what_was_ordered(connection: Connection) -> Iterator[Broken]:
    """A receipt by a line of an order is of the supply of that line."""
    sql = (
        "SELECT m.id FROM movement m JOIN order_line l ON l.id = m.order_line_id"
        f" WHERE m.supply_id <> l.supply_id AND m.act_id {_COUNTS}"
    )
    for (row,) in fetch(connection, sql):
        yield Broken("what came by an order is what was ordered", "movement", row, "the order's line is another supply")


RULES: tuple[Callable[[Connection], Iterator[Broken]], ...] = (
    database_is_sound,
    *verify_journal.RULES,
    rows_refer_to_rows_that_count,
    folded_names_fit,
    days_are_in_order,
    no_unit_is_back_before_it_went,
    readings_fit_their_measurement,
    readings_stand_in_services_of_their_unit,
    the_ledger_holds,
    attachments_are_whole,
    turns_are_what_was_typed,
    lots_are_inspected_when_they_are_there,
    orders_come_after_they_were_placed,
    what_came_by_an_order_is_what_was_ordered,
    *verify_custody.RULES,
    *verify_lending.RULES,
    *verify_standing.RULES,
)
