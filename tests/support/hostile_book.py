"""A book whose every text wants to be something else: what any writer makes of it must stay a text."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from collection.errors import fold
from collection.exchange.no_formula import guarded
from tests.support.cli import run_cli
from tests.support.hostile_pictures import HOSTILE_PICTURES
from tests.support.hostile_texts import HOSTILE_TEXTS

ATTACHED = "T7"  # the unit with all the hostile pictures
TEXTS = tuple(text.strip() for text in HOSTILE_TEXTS if text.strip())
_ONE_LINE = (text for text in TEXTS if not any(ord(character) < 32 or character == ";" for character in text))
NAMES = tuple({fold(name): " ".join(name.split()) for name in _ONE_LINE if len(name) <= 120}.values())
_BOUGHT = tuple(dict.fromkeys((*NAMES[::6], *(name for name in NAMES if "<" in name))))  # order sheets take their time


def hostile_book(folder: Path) -> Path:
    """Return a new book whose units, people, supplies, offers, services and faults have hostile texts, and pictures."""
    csv_folder, book = folder / "hostile", folder / "hostile.sqlite3"
    csv_folder.mkdir()
    for file, (heading, rows) in _files().items():
        with (csv_folder / file).open("w", encoding="utf-8-sig", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow(heading.split())
            writer.writerows([guarded(cell) for cell in row] for row in rows)
    for name, (content, _) in HOSTILE_PICTURES.items():
        (folder / name).write_bytes(content)
    photos = [["photo", "add", ATTACHED, str(folder / name), "--title", f"<b>{name}"] for name in HOSTILE_PICTURES]
    for line in (["start"], ["import", str(csv_folder), "--yes"], *photos):
        ran = run_cli(line, db=book)
        assert 0 == ran.code, f"{ran.out}\n{ran.err}"
    return book


def _files() -> dict[str, tuple[str, Sequence[Sequence[str]]]]:
    names = [NAMES[at % len(NAMES)] for at in range(len(TEXTS))]
    tags = [f"T{at}" for at in range(len(TEXTS))]
    units = zip(tags, names, names, TEXTS, strict=True)
    return {
        "models.csv": ("model maker kind note", [["M 1", NAMES[0], "drive", TEXTS[0]]]),
        "locations.csv": ("location note", [[name, name] for name in NAMES]),
        "people.csv": ("person role address note", [[name, "outside", name, name] for name in NAMES]),
        "units.csv": (
            "tag model owner location condition marks accessories note price currency",
            [[tag, "M 1", owner, place, *[text] * 4, "12.50", "EUR"] for tag, owner, place, text in units],
        ),
        "supplies.csv": ("supply kind measured_in note", [[name, "spare", "piece", name] for name in _BOUGHT]),
        "suppliers.csv": ("supplier lead_days currency note", [[name, "9", "EUR", name] for name in _BOUGHT]),
        "offers.csv": (
            "supplier supply pack_quantity price currency",
            [[name, name, "2", "3.10", "EUR"] for name in _BOUGHT],
        ),
        "lots.csv": ("supply lot received_on quantity", [[name, name, "2026-01-05", "2"] for name in _BOUGHT]),
        "services.csv": (
            "service tag opened_on closed_on reason findings",
            [[f"S{at}", tag, "2026-01-10", "2026-01-11", text, text] for at, (tag, text) in enumerate(_pairs(tags))],
        ),
        "faults.csv": (
            "tag noticed_on symptom cause",
            [[tag, "2026-01-12", text, text] for tag, text in _pairs(tags)],
        ),
        "valuations.csv": (
            "tag valued_on amount currency basis by evidence",
            [[tag, "2026-01-12", "40", "EUR", "market", name, text]
             for (tag, text), name in zip(_pairs(tags), names, strict=True)],
        ),
        "loans.csv": (
            "loan tag person out_on due_on purpose",
            [["L1", "T0", NAMES[0], "2026-01-20", "2026-02-20", TEXTS[0]]],
        ),
        "policies.csv": ("policy from_date insurer sum_insured currency note",
                         [["P1", "2026-01-01", NAMES[1], "1000", "EUR", TEXTS[1]]]),
    }  # fmt: skip


def _pairs(tags: Sequence[str]) -> list[tuple[str, str]]:
    return list(zip(tags, TEXTS, strict=True))
