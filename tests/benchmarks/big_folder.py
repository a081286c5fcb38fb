"""A large invented folder: ten services and a hundred readings per unit, in no order of units, as clubs keep them."""

from __future__ import annotations

import csv
import random
from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from pathlib import Path

from tests.support.times import TODAY

SERVICES, READINGS = 10, 100  # of each unit
_DAYS = [(TODAY - timedelta(days=number)).isoformat() for number in range(1, 5500)]
_DONE = "clean head; clean and re-lube rails"
Row = Sequence[str | int]


def write_big_folder(folder: Path, units: int, seed: int = 1) -> int:
    """Write the folder and return its number of rows."""
    dice = random.Random(seed)
    services = [(f"S{number}", number % units, dice.choice(_DAYS)) for number in range(units * SERVICES)]
    folder.mkdir()
    return sum(
        (
            _write(folder, "models", "model maker kind drive_type nominal_speed", _models()),
            _write(folder, "people", "person role", [("Ada Quill", "keeper"), ("Bo Reed", "member")]),
            _write(folder, "locations", "location", [(f"shelf {number}",) for number in range(20)]),
            _write(folder, "instruments", "instrument measurement reference", _instruments()),
            _write(folder, "units", "tag model maker serial owner location standing acquired_on", _units(units)),
            _write(
                folder, "services", "service tag opened_on closed_on procedures reason outcome minutes by",
                ((name, f"D{u}", day, day, _DONE, "yearly", "done", 30, "Ada Quill") for name, u, day in services),
            ),
            _write(
                folder, "readings", "tag measurement point taken_on instrument value stage service note",
                _readings(dice, services, units),
            ),
        )
    )  # fmt: skip


def _write(folder: Path, name: str, heading: str, rows: Iterable[Row]) -> int:
    count = 0
    with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(heading.split())
        for row in rows:
            writer.writerow(row)
            count += 1
    return count


def _models() -> list[Row]:
    return [(f"VK {number}", "Velkari", "drive", "belt", "300") for number in range(10)]


def _instruments() -> list[Row]:
    return [
        ("counter", "spindle speed", "yes"),
        ("strobe", "spindle speed", "no"),
        ("meter", "rail voltage", "yes"),
    ]


def _units(units: int) -> Iterator[Row]:
    for number in range(units):
        place = f"shelf {number % 20}"
        yield f"D{number}", f"VK {number % 10}", "Velkari", f"S{number:06}", "Ada Quill", place, "ready", "2009-05-01"


def _readings(dice: random.Random, services: Sequence[tuple[str, int, str]], units: int) -> Iterator[Row]:
    for number in range(units * READINGS):
        name, unit, day = services[number % len(services)]
        stage = ("as found", "as left")[number // len(services) % 2]
        if number % 3:
            value, instrument = f"{dice.gauss(300, 0.8):.1f}", ("counter", "strobe")[number % 2]
            yield f"D{unit}", "spindle speed", "", day, instrument, value, stage, name, ""
        else:
            yield f"D{unit}", "rail voltage", "+5 V", day, "meter", f"{dice.gauss(5, 0.05):.3f}", stage, name, ""
