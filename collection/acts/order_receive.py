"""What an order brings: each line that came becomes a lot, or a lot a pack, all in one act."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Engine

from collection.acts.days import past_day
from collection.acts.orders import lines_of, nothing_to_come, open_line
from collection.acts.receive import GivenLot, Received, receive_lot
from collection.acts.wanted import received_notes
from collection.acts.work import Work, open_work
from collection.errors import Refused
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.orders import OrderLine
from collection.views.supplies import Supply, find_supply

_PACKS = re.compile(r"([0-9]*)( ?packs?)?", re.ASCII)
# What came since a day in lots of no order, and was not taken back.
_WITHOUT_SQL = f"""
SELECT t.name, t.received_on, m.steps FROM movement m JOIN lot t ON t.id = m.lot_id AND t.void = 0
WHERE m.kind = 'receive' AND m.order_line_id IS NULL AND m.supply_id = :supply AND m.occurred_on >= :since
AND m.occurred_on NOT IN (
    SELECT e.happened_on FROM order_event e
    WHERE e.line_id = :line AND e.kind = 'arrived' AND e.act_id <> :act AND {counts("e")})
AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")})
AND {counts("m")} ORDER BY m.id"""


class GivenArrival(NamedTuple):
    """What came of one supply. lot: as for any receipt; its quantity is packs where it is a bare number."""

    supply: str
    lot: GivenLot


class ArrivedLine(NamedTuple):
    """One lot, or lots of one line, as booked. amount: in words; through: last usable day, None where none is known."""

    supply: str
    packs: int
    amount: str
    lots: str
    through: date | None


@dataclass(frozen=True, slots=True)
class OrderArrived:
    """What came of an order, what is still to come of it, and what is to be said besides."""

    order: str
    supplier: str
    came: tuple[ArrivedLine, ...]
    still: tuple[OrderLine, ...]
    notes: tuple[str, ...]


def receive_order(
    engine: Engine,
    name: str,
    came: Sequence[GivenArrival] = (),
    *,
    on: str = "",
    location: str = "",
    another: bool = False,
    today: date,
    now: datetime,
) -> OrderArrived:
    """Book what came of an order: the lines given, else all that it waits for; a supply may stand in several lots.

    on: the day it came; location: where it was put. Raises Refused for an unknown order, one of which nothing is to
    come, a supply that it does not wait for, all that a receipt of a supply is refused for, and, unless `another` says
    that it is another one, for as much as came since it was placed and was booked without it.
    """
    with open_work(engine, "order receive", today=today, now=now) as work:
        every = lines_of(work.conn, name)
        waiting = [line for line in every if line.open_packs]
        if not waiting:
            raise nothing_to_come(every)
        day = past_day(on, today, "--on")
        received: list[Received] = []
        for supply, lot in came or [GivenArrival(line.supply, GivenLot()) for line in waiting]:
            line = open_line(work.conn, find_supply(work.conn, supply), name)
            given = replace(lot, quantity=_quantity(line, lot.quantity), order=name, on=day, location=location)
            got = receive_lot(work, line.supply, given)
            if not another:
                _refuse_booked(work, line, got)
            received.append(got)
        still = [line for line in lines_of(work.conn, name) if line.open_packs]
        notes = [note for got in received for note in _notes(got)]
        for supply_id in dict.fromkeys(got.shelf.supply.id for got in received):
            notes += received_notes(work, supply_id)
        told = ", ".join(f'{got.shelf.supply.show(got.steps)} of "{got.shelf.supply.name}"' for got in received)
        work.commit(f'received {told} by order "{every[0].order}" from "{every[0].supplier}"')
    lines = tuple(_line(got) for got in received)
    return OrderArrived(every[0].order, every[0].supplier, lines, tuple(still), tuple(notes))


def _quantity(line: OrderLine, told: str) -> str:
    """Return the amount of a line as a receipt reads it: a bare number is packs, nothing all that is still to come."""
    match = _PACKS.fullmatch(told.strip())
    if match is None:
        return told
    if line.pack_steps is None:
        raise Refused(
            f'How much one pack of "{line.supply}" holds is not known.',
            f'Type what came with its unit: "{line.supply}=AMOUNT UNIT".',
        )
    return f"{match[1] or line.open_packs} packs"


def _refuse_booked(work: Work, line: OrderLine, got: Received) -> None:
    """Refuse what looks like a lot that was received before, without its order."""
    rows = fetch(work.conn, _WITHOUT_SQL, supply=line.supply_id, since=line.ordered_on, line=line.id, act=work.act_id)
    for lot, day, steps in rows:
        if steps == got.steps:
            raise Refused(
                f'{_shown(got.shelf.supply, steps)} came on {day} as lot "{lot}", without an order: a lot is received'
                " once.",
                f'If that was order "{line.order}", undo it first: spindlebook history. If not, add --another.',
            )


def _shown(supply: Supply, steps: int) -> str:
    return f'{supply.show(steps)} of "{supply.name}"'


def _notes(got: Received) -> list[str]:
    beyond = got.arrived.beyond.strip() if got.arrived is not None else ""
    return [*got.notes, *([f'"{got.shelf.supply.name}": {beyond[0].lower()}{beyond[1:]}'] if beyond else [])]


def _line(got: Received) -> ArrivedLine:
    through = [got.shelf.through(lot).through for lot in got.lots]
    first = min((day for day in through if day is not None), default=None)
    supply, packs = got.shelf.supply, got.arrived.packs if got.arrived is not None else 0
    return ArrivedLine(supply.name, packs, supply.show(got.steps), got.names, first)
