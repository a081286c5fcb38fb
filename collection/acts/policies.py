"""Policies: added when they are taken out, changed when the insurer changes them."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.edit import Edited, Given, edit_record, make_row
from collection.acts.work import Work, open_work
from collection.errors import Refused
from collection.store.engine import fetch
from collection.views.policies import Policy, find_policy


def add_policy(engine: Engine, name: str, given: Given, *, today: date, now: datetime) -> Policy:
    """Add a policy; given: from_date, to_date, insurer, sum_insured, note, as a person types them.

    Without a from_date it is in force from today. Raises Refused for a name that is given, a sum below zero and a day
    of no calendar, and where it would end before it begins.
    """
    told = {"from_date": today.isoformat(), **given}
    with open_work(engine, "policy add", today=today, now=now) as work:
        row_id = make_row(work, "policy", {"policy": name, **told}, "A policy")
        _in_time(work, row_id)
        made = find_policy(work.conn, name)
        work.commit(f"added the policy {made.name}")
    return made


def edit_policy(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change what a policy says. Raises Refused as `edit_record` does, and where it would end before it begins."""

    def find(conn: Connection) -> tuple[int, str]:
        found = find_policy(conn, name)
        return found.id, found.name

    def check(work: Work, row_id: int, _edited: Edited) -> None:
        _in_time(work, row_id)

    return edit_record(
        engine, "policy edit", "policy", find, given, reason=reason, check=check, today=today, now=now
    )  # fmt: skip


def _in_time(work: Work, row_id: int) -> None:
    """Refuse a policy that ends before it begins; a partial day may be any of its days."""
    first, last = fetch(work.conn, "SELECT from_date, to_date FROM policy WHERE id = :id", id=row_id)[0]
    if last is not None and last[: len(first)] < first[: len(last)]:
        raise Refused(f"A policy from {first} cannot end on {last}: that is before it begins.", "Type a later --to.")
