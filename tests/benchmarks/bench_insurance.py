"""How long the insurance schedule takes: by hand, `python -m tests.benchmarks.bench_insurance [THINGS]`.

A thousand units, each with a photo of 1200 x 900 pixels, as the workbook with small pictures and formulas. Its floor:
the same cells without any style, formula or picture, by openpyxl's write-only mode; at most 10 times that, the first
time, when every picture is made small, and later, when the small ones are kept. Times are those of the processor.
"""

from __future__ import annotations

import hashlib
import random
import sys
import tempfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from time import process_time
from typing import TYPE_CHECKING, Any

from openpyxl import Workbook, load_workbook
from sqlalchemy.engine import Engine

from collection.acts.start import start_book
from collection.exchange.insurance_items import PHOTO_PX
from collection.exchange.insurance_rows import Leave
from collection.exchange.insurance_workbook import workbook
from collection.exchange.pictures import lead_pictures
from collection.store.book import BookSettings
from collection.store.cache import Cache
from collection.store.engine import open_engine, reading
from collection.views.insurance import schedule
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_RATIO = 10.0
_KINDS = 20


def fill(made: Shelf, things: int) -> None:
    """Write units of a few models with owners, places, values and a photo each."""
    from PIL import Image

    dice, paper = random.Random(1), Image.effect_noise((160, 120), 40).resize((1200, 900)).convert("RGB")
    for number in range(_KINDS):
        made.model(f"VX-{number}", replacement_minor=dice.randrange(2000, 30000), currency="EUR")
    for number in range(things):
        unit = made.unit(
            f"D{number + 1}",
            f"VX-{dice.randrange(_KINDS)}",
            serial=f"{dice.randrange(10**6):06d}",
            acquired_on=f"20{dice.randrange(10, 25)}-05-17",
            price_minor=1250,
            currency="EUR",
            condition="good, a scratch on the lid",
            marks="club sticker",
        )
        made.owner(unit, f"Owner {dice.randrange(8)}")
        made.location(unit, f"shelf {dice.randrange(12)}")
        value = {"amount_minor": dice.randrange(1000, 40000), "currency": "EUR", "basis": "market"}
        made.work.append("valuation", unit_id=unit, valued_on="2025-06-01", **value)
        jpeg = photo(number, paper)
        content = made.work.append(
            "attachment_content", sha256=hashlib.sha256(jpeg).hexdigest(), size=len(jpeg), content=jpeg
        )
        made.work.insert("attachment", content_id=content, unit_id=unit, title="front", media_type="image/jpeg")


def photo(number: int, paper: Image) -> bytes:
    """Return a picture that no other equals, about as large as a photo of its size."""
    from PIL import ImageDraw

    picture = paper.copy()
    ImageDraw.Draw(picture).text((50, 50), str(number))
    kept = BytesIO()
    picture.save(kept, "JPEG", quality=80)
    return kept.getvalue()


def bare(content: bytes) -> Callable[[], None]:
    """Return what writes the cells of a workbook and nothing else."""
    book = load_workbook(BytesIO(content), data_only=True)
    sheets = {name: [list(row) for row in book[name].iter_rows(values_only=True)] for name in book.sheetnames}

    def write() -> None:
        made = Workbook(write_only=True)
        for name, rows in sheets.items():
            sheet = made.create_sheet(name)
            for row in rows:
                sheet.append(row)
        made.save(BytesIO())

    return write


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Return the seconds of the processor that some work took, and what came of it."""
    begun = process_time()
    made = work()
    return process_time() - begun, made


def report(engine: Engine, cache: Cache) -> bytes:
    """Return the workbook, from the book on."""
    with reading(engine) as conn:
        plan = schedule(conn, TODAY, 12)
        leads = lead_pictures(conn, cache, PHOTO_PX)
    small: dict[int | None, bytes] = {unit: each.jpeg for unit, each in leads.items() if each.jpeg}
    return workbook(plan, Leave(), small, known="what the book knows now")


def main() -> int:
    """Print the times with their ratios to the floor; return whether one is over its bound."""
    things = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder) / "book.sqlite3")
        start_book(file, BookSettings(name="A thousand things"), today=TODAY, now=NOW)
        engine = open_engine(file)
        with shelf(engine) as made:
            fill(made, things)
        cache = Cache(Path(folder) / "cache", "bench")
        first, content = timed(lambda: report(engine, cache))
        later, _ = timed(lambda: report(engine, cache))
        floor, _ = timed(bare(content))
        engine.dispose()
    sys.stdout.write(f"{things} things, bare cells: {floor:.2f} s\n")
    for what, seconds in (("first time", first), ("pictures kept", later)):
        sys.stdout.write(f"{what}: {seconds:.2f} s, {seconds / floor:.1f} x (at most {MOST_RATIO:.0f} x)\n")
    return int(max(first, later) > MOST_RATIO * floor)


if __name__ == "__main__":
    sys.exit(main())
