"""What two runs of the same act on the same book have in common, as one digest.

Keys and salts are drawn anew in each run, and what is computed of them differs with them: hashes, digests, and the
journal's texts. Everything else is a matter of the act: `verify` compares the rest with what was left out here.
"""

from __future__ import annotations

import hashlib
from functools import cache

from sqlalchemy.engine import Engine

from collection.schema import TABLES
from collection.store.engine import fetch, reading

_DRAWN = {"key", "salt", "hash", "previous_hash", "digest", "before", "after", "group_key"}


def state(engine: Engine) -> str:
    """Return the digest of every row of a book, journal included, without what no two runs have in common."""
    found = hashlib.sha256()
    with reading(engine) as connection:
        for query in _queries():
            found.update(repr(fetch(connection, query)).encode())
    return found.hexdigest()


@cache
def _queries() -> list[str]:
    columns = {name: [column.name for column in table.c if column.name not in _DRAWN] for name, table in TABLES.items()}
    return [f"SELECT {', '.join(names)} FROM {table} ORDER BY id" for table, names in sorted(columns.items())]
