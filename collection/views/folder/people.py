"""Rows of people, valuations, policies and loans."""

from __future__ import annotations

from collection.views.counts import counts
from collection.views.folder.select import Select, both, drop_last, money, rename

LOAN_NAMES = "SELECT id, name FROM loan WHERE void = 0 ORDER BY id"

SELECTS = {
    "people.csv": Select(
        "SELECT t.id, t.key, t.name, t.role, t.email, t.phone, t.address, t.note FROM person t WHERE t.void = 0"
    ),
    "valuations.csv": Select(
        "SELECT t.id, t.key, u.tag, t.valued_on, t.amount_minor, t.currency, t.basis, p.name, t.evidence"
        " FROM valuation t JOIN unit u ON u.id = t.unit_id AND u.void = 0 LEFT JOIN person p ON p.id = t.by_id"
        f" WHERE {counts('t')}",
        unit="t.unit_id",
        finish=money(4, 5),
    ),
    "policies.csv": Select(
        "SELECT t.id, t.key, t.name, t.from_date, t.to_date, t.insurer, t.insured_minor, t.currency, t.note"
        " FROM policy t WHERE t.void = 0",
        finish=money(6, 7),
    ),
    "loans.csv": Select(
        "SELECT t.id, t.key, l.name, l.direction, u.tag, p.name, l.out_on, l.due_on, t.back_on, l.purpose,"
        " t.condition_out, t.condition_back, l.deposit_minor, l.currency, l.id FROM loan_item t"
        " JOIN loan l ON l.id = t.loan_id JOIN unit u ON u.id = t.unit_id JOIN person p ON p.id = l.person_id"
        " WHERE t.void = 0 AND l.void = 0 AND u.void = 0",
        unit="t.unit_id",
        finish=both(rename(2, 14, LOAN_NAMES), both(money(12, 13), drop_last(1))),
    ),
}
