"""A small shelf for tests of services: drives, a supply unit, a donor, instruments, a drawer, two people."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from collection.acts.work import Work, open_work
from collection.errors import fold
from collection.store.engine import fetch

if TYPE_CHECKING:
    from sqlalchemy.engine import Engine

IPA = "isopropyl alcohol 99 %"
SWAB = "foam swab, lint-free"
BELT = "belt 118 x 6"
# tag, model, standing since 2025-01-10
UNITS = (
    ("D1", "DM-8", "ready"),
    ("D2", "DM-8", "in use"),
    ("D3", "DK-9", "awaiting parts"),
    ("D4", "DS-3", "ready"),
    ("D7", "DM-8", "donor"),
    ("D9", "DM-8", "missing"),
    ("P1", "PS-2", "ready"),
)
MODELS = (
    ("DM-8", "drive", "belt", "300; 360"),
    ("DK-9", "drive", "direct crystal", "360"),
    ("DS-3", "drive", "direct adjustable", "300"),
    ("PS-2", "supply unit", None, None),
)
INSTRUMENTS = (
    ("bench counter", "spindle speed"),
    ("hand strobe", "spindle speed"),
    ("bench meter", "rail voltage"),
    ("bench meter", "ripple"),
)
# supply, lot, received on, expires on, steps
LOTS = (
    (IPA, "A-1", "2025-01-05", "2026-06-30", 100),
    (IPA, "A-2", "2025-06-05", "2027-06-30", 2000),
    (SWAB, "S-1", "2025-01-05", None, 50),
    (BELT, "B-1", "2025-01-05", "2030-01-01", 2),
)


def set_up_bench(engine: Engine, today: date, now: datetime) -> None:
    """Write the shelf as one act."""
    with open_work(engine, "import", today=today, now=now) as work:
        _units(work)
        _instruments(work)
        _drawer(work)
        for name, role in (("Ilse Vanterpool", "keeper"), ("Bram Oakhollow", "member")):
            work.insert("person", name=name, name_folded=fold(name), role=role, salt="0" * 32)
        work.commit("set up the bench")


def receive(work: Work, supply: str, lot: str, received_on: str, expires_on: str | None, steps: int) -> None:
    """Write a lot and its receipt."""
    supply_id = fetch(work.conn, "SELECT id FROM supply WHERE name = :name", name=supply)[0][0]
    lot_id = work.insert(
        "lot", supply_id=supply_id, name=lot, name_folded=fold(lot), received_on=received_on, expires_on=expires_on
    )
    work.append(
        "movement",
        supply_id=supply_id,
        lot_id=lot_id,
        kind="receive",
        steps=steps,
        entered=str(steps),
        occurred_on=received_on,
        used_past_date=0,
    )


def _units(work: Work) -> None:
    models = {
        name: work.insert(
            "model",
            maker="Halverby",
            maker_folded="halverby",
            name=name,
            name_folded=fold(name),
            kind=kind,
            drive_type=drive_type,
            nominal_speeds=speeds,
        )
        for name, kind, drive_type, speeds in MODELS
    }
    for tag, model, standing in UNITS:
        unit_id = work.insert("unit", tag=tag, tag_folded=fold(tag), model_id=models[model])
        work.append("unit_entry", unit_id=unit_id, what="standing", from_date="2025-01-10", standing=standing)


def _instruments(work: Work) -> None:
    known: dict[str, int] = {}
    for name, measurement in INSTRUMENTS:
        if name not in known:
            known[name] = work.insert("instrument", name=name, name_folded=fold(name))
        rows = fetch(work.conn, "SELECT id FROM measurement WHERE name = :name", name=measurement)
        work.insert("instrument_use", instrument_id=known[name], measurement_id=rows[0][0], reference=1)


def _drawer(work: Work) -> None:
    work.insert(
        "supply",
        name=BELT,
        name_folded=fold(BELT),
        kind="belt",
        measured_in="piece",
        smallest_step="1",
        tracked="count",
        fits="DM-8",
    )
    for lot in LOTS:
        receive(work, *lot)
