"""What bringing in a folder would do, as JSON: {"totals": {...}, "rows": [...]}, written row by row."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from itertools import islice
from pathlib import Path

from collection.acts.bring_in.sheet import Finding
from collection.exchange.new_file import cannot_write

_AT_ONCE = 1_000


def write_report(write: Callable[[str], object], totals: dict[str, int], rows: Iterable[Finding]) -> None:
    """Write one JSON object; however many rows there are, few are in memory."""
    pieces = _pieces(totals, rows)
    while chunk := list(islice(pieces, _AT_ONCE)):
        write("".join(chunk))


def _pieces(totals: dict[str, int], rows: Iterable[Finding]) -> Iterator[str]:
    encode = json.JSONEncoder(ensure_ascii=False).encode
    yield f'{{"totals": {encode(totals)}, "rows": ['
    between = "\n"
    for row in rows:
        yield between + encode(row._asdict())
        between = ",\n"
    yield "\n]}\n"


def save_report(path: Path, totals: dict[str, int], rows: Iterable[Finding]) -> None:
    """Write the object to a file, which is made beside its place and renamed when it is whole.

    Raises Refused for a place that cannot be written.
    """
    aside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with aside.open("w", encoding="utf-8") as stream:
            write_report(stream.write, totals, rows)
            stream.flush()
            os.fsync(stream.fileno())
        aside.replace(path)
    except OSError as error:
        raise cannot_write(path, error) from None
    finally:
        with suppress(FileNotFoundError):
            aside.unlink()
