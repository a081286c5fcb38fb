"""The demo: an invented club's book, built beside its place and put there whole, and a service to record on it."""

import os
from collections.abc import Sequence
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

from collection.acts.bring_in.plan import Tick, plan_import
from collection.acts.bring_in.tables import Table
from collection.acts.bring_in.write import bring_in
from collection.acts.demo_club import note_what_no_folder_holds
from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenService
from collection.acts.start import refuse_left_over, start_book
from collection.errors import NoBook, Refused
from collection.store.book import BookSettings, open_book
from collection.store.engine import opened, reading

# The unit that has waited longest in the invented club, opened once for all its overdue work.
SERVICED = "D5"
_COUNTER, _EYES = "bench counter", "bench meter and loupe"
SERVICE = GivenService(
    reason="overdue",
    did=("dust out", "clean head", "clean and re-lube rails", "check spindle speed", "visual check of capacitors"),
    as_found=(GivenReading("spindle speed", "298.9", instrument=_COUNTER),),
    as_left=(
        GivenReading("spindle speed", "298.9", instrument=_COUNTER),
        GivenReading("head condition", "pass", instrument=_EYES),
        GivenReading("visual condition of capacitors", "pass", instrument=_EYES),
    ),
    by_the_sheet=True,
    outcome="ready",
    minutes=70,
)


def build_demo(
    place: Path, name: str, tables: Sequence[Table], *, today: date, now: datetime, tick: Tick | None = None
) -> None:
    """Make the demo's book at ``place``.

    A book that an earlier demo made there is replaced; anything else is refused and left as it is.
    """
    refuse_unless_demo(place)
    place.parent.mkdir(parents=True, exist_ok=True)
    aside = place.with_name(f".{place.name}.{os.getpid()}.demo")
    aside.unlink(missing_ok=True)  # of a killed process that had the same number
    try:
        _fill(aside, name, tables, today, now, tick)
        aside.replace(place)
    finally:
        with suppress(FileNotFoundError):
            aside.unlink()


def refuse_unless_demo(place: Path) -> None:
    """Refuse a file that an earlier demo did not make."""
    refuse_left_over(place)
    if not place.exists():
        return
    try:
        with opened(str(place)) as engine, reading(engine) as connection:
            made_by_demo = open_book(connection).made_by == "demo"
    except NoBook:
        made_by_demo = False
    if not made_by_demo:
        raise Refused(
            f"{place} was not made by the demo; it was left as it is.",
            "Name a new file: spindlebook --db FILE demo",
        )


def _fill(file: Path, name: str, tables: Sequence[Table], today: date, now: datetime, tick: Tick | None) -> None:
    start_book(str(file), BookSettings(name=name), today=today, now=now, made_by="demo")
    with opened(str(file)) as engine:
        with reading(engine) as connection:
            plan = plan_import(connection, tables, today=today)
        if not plan.writable:
            raise RuntimeError(f"the demo's own rows are refused: {list(plan.rows())[:3]}")
        bring_in(engine, plan, today=today, now=now, where="the invented club", tick=tick)
        note_what_no_folder_holds(engine, today=today, now=now)
