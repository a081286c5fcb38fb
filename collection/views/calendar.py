"""What a calendar is told of the book: openings that come due, bench days, loans, and what expires."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.bench_horizon import bench_of
from collection.analysis.bench_plan import EARLY_DAYS, BenchDay
from collection.analysis.schedule import LEFT_OUT, DueItem, due_list
from collection.quantity import parse_day, show_day
from collection.store.book import Book
from collection.store.engine import fetch
from collection.views.bench_plan import bench_view
from collection.views.checks import also_due
from collection.views.drawer import HeldLot, drawer
from collection.views.due import Rechecks, due_facts
from collection.views.entries import Entry as Arrival
from collection.views.entries import entry_list
from collection.views.loans import borrowed
from collection.views.policies import policy_list
from collection.views.supplies import Supply
from collection.views.units import Unit

DUE, BENCH, LOAN, EXPIRY = KINDS = ("due", "bench", "loan", "expiry")
# What ended longer ago is no longer told as ended: whoever reads a calendar once a year has seen it.
_ENDED_DAYS = 365
_ALL_AHEAD = 36500  # days
_FEW = 3  # procedures or units that a title names
_LOANS_SQL = """
SELECT i.key, l.direction, u.tag, p.name, l.name, l.due_on, i.back_on
FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN unit u ON u.id = i.unit_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0 AND l.out_on <= :day AND (i.back_on IS NULL OR i.back_on >= :since)
ORDER BY i.id
"""
_KEPT_SQL = """
SELECT r.key, u.tag, p.name, r.from_date, r.to_date, r.closed_on
FROM reservation r JOIN unit u ON u.id = r.unit_id JOIN person p ON p.id = r.person_id
WHERE r.void = 0 AND coalesce(r.closed_on, r.to_date) >= :since ORDER BY r.id
"""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a calendar, of a whole day.

    uid: made of the key of the row that it is about, so that it is the same in every export. about: lines of text.
    ended: what it was about is over, and the entry is to go. personal: whether a person is named in it.
    """

    uid: str
    kind: str
    day: date
    title: str
    about: tuple[str, ...] = ()
    place: str = ""
    ended: bool = False
    personal: bool = False


@dataclass(frozen=True, slots=True)
class _Asked:
    conn: Connection
    today: date
    book: Book
    rechecks: Rechecks
    with_people: bool

    def shown(self, day: date) -> str:
        return show_day(day.isoformat(), self.book.settings.date_form)

    def keys(self, table: str) -> Mapping[int, str]:
        return {row[0]: str(row[1]) for row in fetch(self.conn, f"SELECT id, key FROM {table} WHERE void = 0")}

    def at(self, day: date, said: str) -> tuple[date, tuple[str, ...]]:
        """Return the day of an entry, which is today for what is past its own, and a line that says so."""
        return (day, ()) if day >= self.today else (self.today, (f"{said} {self.shown(day)}",))


def calendar_entries(
    conn: Connection, today: date, book: Book, rechecks: Rechecks, kinds: Sequence[str], *, with_people: bool = True
) -> list[Entry]:
    """Return the entries of some kinds (of KINDS), by day.

    Work that is overdue, loans that are and lots past their date stand on today. rechecks: by unit, of `views.recheck`.
    with_people: whether borrowers and names of loans are told.
    """
    asked = _Asked(conn, today, book, rechecks, with_people)
    made = {DUE: _due, BENCH: _bench, LOAN: _loans, EXPIRY: _expiries}
    entries = [entry for kind in dict.fromkeys(kinds) for entry in made[kind](asked)]
    return sorted(entries, key=lambda entry: (entry.day, KINDS.index(entry.kind), entry.title, entry.uid))


def sequence(conn: Connection) -> int:
    """Return the number of the last act of the book: it rises with every change, and never falls."""
    return int(fetch(conn, "SELECT coalesce(max(id), 0) FROM act")[0][0])


def _due(asked: _Asked) -> Iterator[Entry]:
    """Yield the next opening of each unit, and the checks of instruments and disks."""
    facts = due_facts(asked.conn, asked.today, rechecks=asked.rechecks)
    keys = asked.keys("unit")
    for about in facts.of_units:
        if about.standing in LEFT_OUT:
            yield from _left_out(asked, facts.units[about.id], f"due-{keys[about.id]}")
    for row in due_list(facts.of_units, facts.rules, asked.today, _ALL_AHEAD, asked.book.settings.date_form).rows:
        yield _opening(asked, facts.units[row.unit_id], f"due-{keys[row.unit_id]}", row.items)
    for one in also_due(asked.conn, asked.today, _ALL_AHEAD):
        if one.due is not None:
            day, over = asked.at(one.due, "overdue since")
            failed = ("the last check failed",) if one.failed else ()
            yield Entry(f"check-{one.key}", DUE, day, f"check {one.name}", over + failed)


def _opening(asked: _Asked, unit: Unit, uid: str, items: Sequence[DueItem]) -> Entry:
    """Return the next opening of a unit: what is due by then, and within a month after, since that goes along."""
    day, over = asked.at(items[0].due, "overdue since")
    until = day + timedelta(days=EARLY_DAYS)
    now = [item for item in items if item.due <= until]
    later = [f"later: {item.procedure}, {asked.shown(item.due)}" for item in items if item.due > until]
    why = [reason for item in now for reason in item.reasons]
    where = (f"{unit.standing}: due when it is back",) if unit.standing in ("on loan", "away") else ()
    title = f"due {unit.tag}: {_few([item.procedure for item in now])}"
    return Entry(uid, DUE, day, title, (*over, *where, *why, *later), unit.location)


def _left_out(asked: _Asked, unit: Unit, uid: str) -> Iterator[Entry]:
    """Yield the end of what an earlier calendar may have of a unit that nothing is due on any more."""
    since = parse_day(unit.standing_from).first if unit.standing_from else date.min
    if (asked.today - since).days <= _ENDED_DAYS:
        yield Entry(uid, DUE, since, f"{unit.tag} is {unit.standing}", ended=True)


def _few(names: Sequence[str]) -> str:
    if len(names) <= _FEW:
        return ", ".join(names)
    return f"{', '.join(names[: _FEW - 1])} and {len(names) - _FEW + 1} more"


def _bench(asked: _Asked) -> Iterator[Entry]:
    """Yield each bench day of the next weeks with what is planned for it; nothing where no bench days are set."""
    settings = asked.book.settings
    if settings.bench_weekdays is None:
        return
    bench = bench_of(asked.today, None, None, settings.bench_weekdays, settings.bench_minutes)
    view = bench_view(asked.conn, asked.today, bench, asked.rechecks, settings.date_form)
    planned = {day.on: day for day in view.plan.days}
    days, place = bench.calendar(), 0
    while (on := days.day(place)) <= bench.last:
        yield _bench_day(asked, on, planned.get(on))
        place += 1


def _bench_day(asked: _Asked, on: date, day: BenchDay | None) -> Entry:
    uid = f"bench-{asked.book.key}-{on:%Y%m%d}"
    if day is None:
        return Entry(uid, BENCH, on, "bench day, nothing planned")
    title = f"bench: {_few([opening.tag for opening in day.openings])}, {day.minutes} min"
    lines = [
        f"{opening.tag}: {', '.join(work.procedure for work in opening.works)} ({opening.minutes} min)"
        for opening in day.openings
    ]
    return Entry(uid, BENCH, on, title, tuple(lines))


def _loans(asked: _Asked) -> Iterator[Entry]:
    """Yield the day on which each unit on loan is due back, or goes back to who brought it, and when one is reserved.

    What is over is told as ended.
    """
    since = (asked.today - timedelta(days=_ENDED_DAYS)).isoformat()
    for row in fetch(asked.conn, _LOANS_SQL, day=asked.today.isoformat(), since=since):
        yield _loan(asked, *row)
    for row in fetch(asked.conn, _KEPT_SQL, since=since):
        yield _kept(asked, *row)
    lent = borrowed(asked.conn)
    for arrival in entry_list(asked.conn, asked.today):
        if arrival.return_by:
            yield from _brought(asked, arrival, ended=arrival.days_over is None or arrival.unit.id in lent)


def _loan(asked: _Asked, *row: Any) -> Entry:
    key, direction, tag, person, loan, due_on, back_on = row
    last = parse_day(due_on).last
    back = back_on is not None and parse_day(back_on).first <= asked.today
    day, over = (last, ()) if back else asked.at(last, "overdue since")
    title, towards = f"{tag} is due back", "from" if direction == "out" else "to"
    if not asked.with_people:
        return Entry(f"loan-{key}", LOAN, day, title, over, ended=back)
    lines = (*over, f"loan {loan}")
    return Entry(f"loan-{key}", LOAN, day, f"{title} {towards} {person}", lines, ended=back, personal=True)


def _kept(asked: _Asked, key: str, tag: str, person: str, first: str, last: str, closed_on: str | None) -> Entry:
    day, ended = date.fromisoformat(first), closed_on is not None or last < asked.today.isoformat()
    title, until = f"{tag} is reserved", (f"until {asked.shown(date.fromisoformat(last))}",)
    if not asked.with_people:
        return Entry(f"reservation-{key}", LOAN, day, title, until, ended=ended)
    return Entry(f"reservation-{key}", LOAN, day, f"{title} for {person}", until, ended=ended, personal=True)


def _brought(asked: _Asked, arrival: Arrival, *, ended: bool) -> Iterator[Entry]:
    """Yield when what was brought goes back; what is borrowed has the day of its loan instead."""
    last, unit = parse_day(arrival.return_by).last, arrival.unit
    told = max(last, parse_day(unit.standing_from).first if unit.standing_from else last)
    if ended and (asked.today - told).days > _ENDED_DAYS:
        return
    day, over = (last, ()) if ended else asked.at(last, "to go back since")
    uid, title = f"arrival-{arrival.key}", f"{unit.tag} goes back"
    if not asked.with_people:
        yield Entry(uid, LOAN, day, title, over, unit.location, ended=ended)
        return
    title += f" to {arrival.sender.name}" if arrival.sender else ""
    lines = (*over, *filter(None, (arrival.entry_number and f"entry {arrival.entry_number}", arrival.reason)))
    yield Entry(uid, LOAN, day, title, lines, unit.location, ended=ended, personal=arrival.sender is not None)


def _expiries(asked: _Asked) -> Iterator[Entry]:
    """Yield the last day of each lot that is held, the end of those used up before it, and that of each policy."""
    keys = asked.keys("lot")
    for held in drawer(asked.conn, asked.today):
        for lot in held.lots:
            if lot.lot is not None and lot.usable.through is not None:
                yield from _lot(asked, held.supply, lot, f"lot-{keys[lot.lot.id]}", lot.usable.through)
    policies = asked.keys("policy")
    for policy in policy_list(asked.conn):
        if policy.to_date and parse_day(policy.to_date).last >= asked.today:
            day = parse_day(policy.to_date).last
            yield Entry(f"policy-{policies[policy.id]}", EXPIRY, day, f'policy "{policy.name}" ends')


def _lot(asked: _Asked, supply: Supply, held: HeldLot, uid: str, through: date) -> Iterator[Entry]:
    name = f"{supply.name}, lot {held.lot.name}" if held.lot and held.lot.name else supply.name
    if held.steps <= 0:
        if through >= asked.today:
            yield Entry(uid, EXPIRY, through, f"{name} is used up", ended=True)
        return
    day, over = asked.at(through, "past its date since")
    then = held.usable.what_then(through + timedelta(days=1))
    lines = (f"left: {supply.show(held.steps)}", held.usable.because, then and f"after that: {then}")
    yield Entry(uid, EXPIRY, day, f"last day of {name}", (*over, *filter(None, lines)), ", ".join(held.places))
