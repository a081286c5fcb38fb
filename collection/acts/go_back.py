"""Taking a book back to an older schema, so that the program of that version opens it again."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy.engine import Engine

from collection.acts.backups import keep
from collection.errors import Refused
from collection.store.backup import restore_file
from collection.store.down import copy_back, replace_book
from collection.store.engine import HEAD, open_engine, reading, writing
from collection.store.migrate import known_revisions
from collection.store.place import beside


@dataclass(frozen=True)
class WentBack:
    """The schema before and after, and the backup of the state before."""

    before: str
    after: str
    kept: Path


def go_back(engine: Engine, revision: str, keep_in: Path, now: datetime) -> WentBack:
    """Back up into ``keep_in``, then give the book the older schema ``revision``: all of it, or nothing is changed.

    Refused for a schema that this program does not know or that is not older, and where anything would be lost.
    """
    older = sorted(known_revisions() - {HEAD})
    if revision not in older:
        raise Refused(
            f"{revision} is no older schema that this program knows.", f"Type one of: {', '.join(reversed(older))}."
        )
    with reading(engine):
        pass  # what is no book of this version is refused before anything is made
    if engine.dialect.name == "sqlite":
        kept = keep(engine, keep_in, "before going back", now)
        with beside(keep_in / "older") as file:
            with reading(engine) as source:
                copy_back(source, file, revision)
            restore_file(file, Path(str(engine.url.database)), kept.manifest.last_seal)
        return WentBack(HEAD, revision, kept.file)
    with writing(engine) as target:  # under the writer's lock, so that no act comes between
        kept = keep(engine, keep_in, "before going back", now)
        with beside(keep_in / "older") as file:
            with reading(engine) as source:
                copy_back(source, file, revision)
            with reading(open_engine(str(file)), revision) as rows:
                replace_book(rows, target, revision)
            target.get_transaction().commit()  # type: ignore[union-attr]
    return WentBack(HEAD, revision, kept.file)
