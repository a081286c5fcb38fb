"""Putting a backup in the place of the book, and bringing an older book to this program's schema."""

import os
import shutil
import sqlite3
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import sqlalchemy
from sqlalchemy.engine import Engine

from collection.acts.reference import bring_in_reference
from collection.acts.work import open_work
from collection.errors import Refused
from collection.store.backup import (
    Damaged,
    Manifest,
    back_up,
    check_backup,
    journal_path,
    manifest_path,
    replace_damaged,
    restore_file,
)
from collection.store.copy import replace_rows
from collection.store.engine import HEAD, must_exist, open_engine, reading, schema_version, writing
from collection.store.migrate import upgrade_schema
from collection.store.place import beside, put_in_place

_DAMAGE = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}


@dataclass(frozen=True)
class Restored:
    """What was restored, and where the state before it is kept (None: there was none)."""

    manifest: Manifest
    kept: Path | None


@dataclass(frozen=True)
class Upgraded:
    """The schema before and after, the reference rows refreshed, and the backup made before a migration."""

    before: str
    after: str
    rows: int
    kept: Path | None


def restore(engine: Engine, file: Path, keep_in: Path, now: datetime) -> Restored:
    """Restore a verified backup; the present state is kept aside in ``keep_in`` first.

    Refused for a damaged or foreign backup, and when what stands in the book's place is not a book.
    """
    manifest = check_backup(file)
    if engine.dialect.name == "sqlite":
        live = Path(str(engine.url.database))
        if live.exists() and live.samefile(file):
            raise Refused(f"{file} is the book itself.", "Give the file that spindlebook backup wrote.")
        kept, seal = _keep_file(engine, live, keep_in, now)
        live.parent.mkdir(parents=True, exist_ok=True)
        if kept is not None and seal is None:
            replace_damaged(file, live)
        else:
            restore_file(file, live, seal)
        return Restored(manifest, kept)
    kept = _aside(keep_in, "book", now)
    source = open_engine(str(file))
    with reading(source) as rows, writing(engine) as target:
        back_up(engine, kept, now)  # under the writer's lock, so that no act comes between
        replace_rows(rows, target)
        target.get_transaction().commit()  # type: ignore[union-attr]
    source.dispose()
    return Restored(manifest, kept)


def upgrade(engine: Engine, keep_in: Path, *, today: date, now: datetime) -> Upgraded:
    """Back up, then bring an older book to this program's schema and refresh untouched reference data.

    A book on a server is migrated in one transaction; its administrator's own backup comes before it.
    """
    must_exist(engine)
    with engine.connect() as connection:
        before = schema_version(connection)
    kept = None
    if before is not None and before < HEAD and engine.dialect.name == "sqlite":
        kept = _aside(keep_in, _stem(engine), now)
        back_up(engine, kept, now, older=True)
    before = upgrade_schema(engine)
    with open_work(engine, "upgrade", today=today, now=now) as work:
        rows = bring_in_reference(work)
        if rows or before != HEAD:
            work.commit(f"upgraded from schema {before} to {HEAD}; {rows} rows of reference data refreshed")
    return Upgraded(before, HEAD, rows, kept)


def _keep_file(engine: Engine, live: Path, keep_in: Path, now: datetime) -> tuple[Path | None, str | None]:
    """Keep what stands in the book's place; returns where (None: nothing stood there) and its last seal.

    A damaged book has no seal: nobody can say what its last act was.
    """
    if not live.exists() or live.stat().st_size == 0:
        return None, None
    kept = _aside(keep_in, _stem(engine), now)
    try:
        return kept, back_up(engine, kept, now).last_seal
    except (Damaged, sqlite3.DatabaseError, sqlalchemy.exc.DatabaseError) as error:
        if not _is_damage(error):
            raise
        # A damaged book cannot be backed up by its own means; its bytes may still hold what someone can save.
        _keep_bytes(live, kept)
        if journal_path(live).exists():
            _keep_bytes(journal_path(live), journal_path(kept))
        return kept, None


def _keep_bytes(file: Path, kept: Path) -> None:
    with beside(kept) as temporary:
        shutil.copyfile(file, temporary)
        put_in_place(temporary, kept)


def _is_damage(error: Exception) -> bool:
    """Tell damaged pages from a locked book, a full disk and whatever else may be over when one tries again."""
    cause = getattr(error, "orig", error)
    return isinstance(error, Damaged) or getattr(cause, "sqlite_errorcode", 0) & 0xFF in _DAMAGE


def _stem(engine: Engine) -> str:
    return Path(str(engine.url.database)).name


def _aside(folder: Path, stem: str, now: datetime) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%S")
    number = 1
    while True:
        path = folder / f"{stem}.before-{stamp}-{number}"
        if not os.path.lexists(path) and not os.path.lexists(manifest_path(path)):
            return path
        number += 1
