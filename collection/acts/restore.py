"""Putting a backup in the place of the book, while the state that stood there is kept aside."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import sqlalchemy
from sqlalchemy.engine import Connection, Engine

from collection.acts.backups import keep
from collection.acts.upgrade import upgrade
from collection.acts.who import writer
from collection.errors import Refused, path_typed
from collection.store.backup import Damaged, check_backup, journal_path, replace_damaged, restore_file
from collection.store.copy import replace_rows
from collection.store.engine import HEAD, fetch, opened, reading, writing
from collection.store.kept import free_names
from collection.store.manifest import Manifest
from collection.store.migrate import new_schema
from collection.store.move import contents
from collection.store.place import beside, put_in_place
from collection.store.stands import what_stands

_DAMAGE = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_WHY = "before restore"


@dataclass(frozen=True)
class Restored:
    """What was restored, and where the state before it is kept (None: there was none).

    brought_up: the older schema that it had; None where it had this program's.
    """

    manifest: Manifest
    kept: Path | None
    brought_up: str | None


def restore(engine: Engine, file: Path, keep_in: Path, *, today: date, now: datetime) -> Restored:
    """Restore a verified backup; the present state is kept aside in ``keep_in`` first.

    A backup of an older schema is brought to this program's in a copy of it, and that is restored. Where nothing stands
    in the book's place, no file or an empty database, the backup becomes the book. Refused as `may_be_restored`.
    """
    manifest = may_be_restored(engine, file)
    on_file = engine.dialect.name == "sqlite"
    with _brought_up(file, manifest, keep_in, today, now) as ready:
        kept = _into_file(engine, ready, keep_in, now) if on_file else _into_server(engine, ready, keep_in, now)
    return Restored(manifest, kept, None if manifest.schema == HEAD else manifest.schema)


def may_be_restored(engine: Engine, file: Path) -> Manifest:
    """The manifest of a backup that may come into the book's place.

    Refused for a folder, for a damaged, newer or foreign backup, for one of another book, for who may not write in the
    present one, and when what stands in its place is not a book.
    """
    if file.is_dir():
        raise Refused(f"{file} is a folder.", f"Name one of its backups: spindlebook backup list {path_typed(file)}")
    manifest = check_backup(file)
    if engine.dialect.name == "sqlite" and _live(engine).exists() and _live(engine).samefile(file):
        raise Refused(f"{file} is the book itself.", "Give the file that spindlebook backup wrote.")
    if not _is_empty(engine):
        _refuse_unfit(engine, file)
    return manifest


def _live(engine: Engine) -> Path:
    return Path(str(engine.url.database))


def _is_empty(engine: Engine) -> bool:
    """Whether nothing stands in the book's place yet: no file, an empty one, or a database without a table."""
    if engine.dialect.name == "sqlite":
        return not _live(engine).exists() or _live(engine).stat().st_size == 0
    with engine.connect() as connection:
        return what_stands(connection) is None


def _refuse_unfit(engine: Engine, file: Path) -> None:
    """Refuse a backup of another book than the one that stands there, and who may not write in that one.

    A damaged book cannot tell which it is, nor who is who.
    """
    sql = "SELECT key, name FROM book"
    try:
        with reading(engine) as connection:
            present = fetch(connection, sql)[0]
            writer(connection, "restore", None)  # refused for who may not write
    except sqlalchemy.exc.DatabaseError as error:
        if not _is_damage(error):
            raise
        return
    with opened(str(file)) as source, source.connect() as connection:
        given = fetch(connection, sql)[0]
    if given[0] != present[0]:
        named = [f" ({name})" if name else "" for _, name in (given, present)]
        raise Refused(
            f"{file} is a backup of another book{named[0]} than the one in use{named[1]}; nothing was changed.",
            "Give it a place of its own: spindlebook --db NEWFILE restore FILE",
        )


@contextmanager
def _brought_up(file: Path, manifest: Manifest, aside: Path, today: date, now: datetime) -> Iterator[Path]:
    """Yield the backup itself, or a copy of it with this program's schema where it has an older one."""
    if manifest.schema == HEAD:
        yield file
        return
    aside.mkdir(parents=True, exist_ok=True)
    with beside(aside / file.name) as copy:
        shutil.copyfile(file, copy)
        with opened(str(copy)) as engine:
            upgrade(engine, None, today=today, now=now)
        yield copy


def _into_file(engine: Engine, ready: Path, keep_in: Path, now: datetime) -> Path | None:
    live = _live(engine)
    kept, seal = _keep_file(engine, live, keep_in, now)
    live.parent.mkdir(parents=True, exist_ok=True)
    if kept is not None and seal is None:
        replace_damaged(ready, live)
    else:
        restore_file(ready, live, seal)
    return kept


def _into_server(engine: Engine, ready: Path, keep_in: Path, now: datetime) -> Path | None:
    kept = None
    with opened(str(ready)) as source, reading(source) as rows:
        if _is_empty(engine):
            with new_schema(engine.url.render_as_string(hide_password=False)) as target:
                _fill(rows, target)
        else:
            with writing(engine) as target:
                kept = keep(engine, keep_in, _WHY, now).file  # under the writer's lock, so that no act comes between
                _fill(rows, target)
                target.get_transaction().commit()  # type: ignore[union-attr]
    return kept


def _fill(rows: Connection, target: Connection) -> None:
    """Put the rows in the place of all that stand there, and compare count and digest of every table."""
    replace_rows(rows, target)
    if contents(rows) != contents(target):
        raise Refused(
            "What came into the database is not what the backup holds; nothing was changed.",
            "Try again; if it happens twice, have its server looked at.",
        )


def _keep_file(engine: Engine, live: Path, keep_in: Path, now: datetime) -> tuple[Path | None, str | None]:
    """Keep what stands in the book's place; returns where (None: nothing stood there) and its last seal.

    A damaged book has no seal: nobody can say what its last act was.
    """
    if _is_empty(engine):
        return None, None
    try:
        kept = keep(engine, keep_in, _WHY, now)
    except (Damaged, sqlite3.DatabaseError, sqlalchemy.exc.DatabaseError) as error:
        if not _is_damage(error):
            raise
        return _keep_bytes(engine, live, keep_in, now), None
    return kept.file, kept.manifest.last_seal


def _keep_bytes(engine: Engine, live: Path, keep_in: Path, now: datetime) -> Path:
    """Keep a damaged book, which cannot be backed up by its own means: its bytes may hold what someone can save."""
    keep_in.mkdir(parents=True, exist_ok=True)
    kept = next(free_names(keep_in, engine, f"damaged {_WHY}", now))
    _copy_bytes(live, kept)
    if journal_path(live).exists():
        _copy_bytes(journal_path(live), journal_path(kept))
    return kept


def _copy_bytes(file: Path, kept: Path) -> None:
    with beside(kept) as temporary:
        shutil.copyfile(file, temporary)
        put_in_place(temporary, kept)


def _is_damage(error: Exception) -> bool:
    """Tell damaged pages from a locked book, a full disk and whatever else may be over when one tries again."""
    cause = getattr(error, "orig", error)
    return isinstance(error, Damaged) or getattr(cause, "sqlite_errorcode", 0) & 0xFF in _DAMAGE
