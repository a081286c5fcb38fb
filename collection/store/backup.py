"""Backups: a copy of the book that is checked before it bears its name, with a manifest of digests beside it.

A file is copied by SQLite's backup interface, which sees one state while others write ("How To Corrupt An SQLite
Database File" 1.2, sqlite.org); a book on a server is copied row by row into such a file, so every backup is a book.
integrity_check is no checksum: one flipped bit in five goes unseen by it, so the manifest's SHA-256 decides.
"""

import hashlib
import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.engine import Engine

from collection import __version__
from collection.errors import Moved, NoBook, Refused
from collection.store.copy import copy_into_file
from collection.store.engine import HEAD, must_exist, open_engine, reading
from collection.store.manifest import FORMAT, Manifest, backup_path, manifest_path, read_manifest, write_manifest
from collection.store.place import beside, put_in_place, put_over

_ANOTHER = "See which others there are: spindlebook backup list"


class Damaged(Refused):
    """What stands in the book's place, or is given as a backup, is not what was written there."""


class Newer(Refused):
    """A backup that a newer program made."""


class Taken(Refused):
    """Something bears the name already that a backup was to have."""


def back_up(engine: Engine, file: Path, now: datetime, *, why: str = "", revision: str = HEAD) -> Manifest:
    """Copy the book of ``engine`` to ``file``, verified; refused when something stands there.

    why: what it is made for, for the manifest. revision: the schema that the book has, another than this program's
    only before an upgrade.
    """
    must_exist(engine)
    for path in (file, manifest_path(file)):
        if os.path.lexists(path):
            raise _taken(str(path))
    if not file.absolute().parent.is_dir():
        raise Refused(f"There is no folder {file.absolute().parent}.", "Make it first, or choose another place.")
    with beside(file) as temporary:
        _copy(engine, temporary, revision)
        manifest = _describe(temporary, now, why)
        try:
            _put_both(temporary, file, manifest)
        except FileExistsError as error:
            raise _taken(str(error.filename)) from None
    return manifest


def _put_both(temporary: Path, file: Path, manifest: Manifest) -> None:
    """Give the manifest its name first, so that no backup is ever without it, and take it back if the backup fails."""
    write_manifest(file, manifest)
    try:
        put_in_place(temporary, file)
    except BaseException:
        manifest_path(file).unlink()
        raise


def _taken(path: str) -> Taken:
    return Taken(f"There is something at {path} already; a backup overwrites nothing.", "Choose another name.")


def check_backup(file: Path) -> Manifest:
    """Return the manifest of a backup whose file is just what the manifest says; refused otherwise.

    Its schema may be an older one. Raises Damaged for a file that is not what was backed up, Newer for a newer schema.
    """
    if not file.is_file():
        raise Refused(f"There is no backup at {file}.", "Give the file that spindlebook backup wrote.")
    stands_by = backup_path(file)
    if stands_by is not None and not manifest_path(file).exists():
        raise Refused(f"{file} is the manifest of a backup, not the backup.", f"Give {stands_by}")
    manifest = read_manifest(file)
    if file.stat().st_size != manifest.size or _sha256(file) != manifest.sha256:
        raise Damaged(f"{file} is not what was backed up: its digest differs.", _ANOTHER)
    if manifest.schema > HEAD:
        raise Newer(
            f"{file} is of a newer version (schema {manifest.schema}, this program has {HEAD}).",
            "Install the newer program.",
        )
    damage = _foreign(file) or _damage(file)
    if damage:
        raise Damaged(f"{file} is not a sound book: {damage}.", _ANOTHER)
    return manifest


def condition(file: Path) -> str:
    """Whether a backup is "good", "newer" (for a newer program to judge), "damaged", or "gone" meanwhile."""
    try:
        check_backup(file)
    except Newer:
        return "newer"
    except (Refused, OSError):
        return "damaged" if file.exists() else "gone"
    return "good"


def _foreign(file: Path) -> str:
    try:
        must_exist(open_engine(str(file)))
    except NoBook:
        return "it is a file of something else"
    return ""


def restore_file(backup: Path, live: Path, kept_seal: str | None) -> None:
    """Bring the pages of a checked backup into the live file, under SQLite's own locks and in one transaction.

    kept_seal: of the last act in the state that was kept aside. Raises Moved where an act came after it.
    """
    if not live.exists():
        with beside(live) as temporary:
            _bring_pages(backup, temporary)
            # Left over from a file that is gone, it would be rolled back into this one ("How To Corrupt" 1.4).
            journal_path(live).unlink(missing_ok=True)
            put_in_place(temporary, live)
        return
    _bring_pages(backup, live, kept_seal)


def replace_damaged(backup: Path, live: Path) -> None:
    """Put a copy of a checked backup in the place of a file that SQLite cannot read."""
    with beside(live) as temporary:
        _bring_pages(backup, temporary)
        # A journal is rolled back into whatever file has its name ("How To Corrupt" 1.4), so it goes first.
        journal_path(live).unlink(missing_ok=True)
        put_over(temporary, live)


def journal_path(file: Path) -> Path:
    """Where SQLite keeps what an unfinished transaction of a file has overwritten."""
    return file.with_name(file.name + "-journal")


def _bring_pages(backup: Path, file: Path, kept_seal: str | None = None) -> None:
    with (
        closing(sqlite3.connect(backup)) as source,
        closing(sqlite3.connect(file, timeout=5, isolation_level=None)) as target,
    ):
        target.execute("PRAGMA synchronous = EXTRA")
        if kept_seal is not None:
            _hold(target, kept_seal)
        source.backup(target)


def _hold(live: sqlite3.Connection, kept_seal: str) -> None:
    """Keep everybody out until the connection is closed, and see that no act came after the state that was kept.

    In this locking mode a transaction that ends keeps its lock ("PRAGMA locking_mode", sqlite.org).
    """
    live.execute("PRAGMA locking_mode = EXCLUSIVE")
    live.execute("BEGIN EXCLUSIVE")
    last = live.execute("SELECT hash FROM seal ORDER BY id DESC LIMIT 1").fetchone()[0]
    live.execute("COMMIT")
    if last != kept_seal:
        raise Moved("An act was written to the book while its present state was kept aside.", "Restore again.")


def _copy(engine: Engine, temporary: Path, revision: str) -> None:
    if engine.dialect.name != "sqlite":
        with reading(engine, revision) as connection:
            copy_into_file(connection, str(temporary), revision)
        return
    with reading(engine, revision):
        pass  # a foreign or newer file is refused here
    live = str(engine.url.database)
    with closing(sqlite3.connect(live, timeout=5)) as source, closing(sqlite3.connect(temporary)) as target:
        source.backup(target)


def _describe(file: Path, now: datetime, why: str) -> Manifest:
    damage = _damage(file)
    if damage:
        raise Damaged(
            f"The file of the book is damaged ({damage}); no backup was made.",
            "Bring back an earlier one with: spindlebook restore FILE",
        )
    with closing(sqlite3.connect(file)) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        rows = {
            name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]
            for name in sorted(names)
            if not name.startswith("sqlite_")
        }
        schema, seal, book = (connection.execute(sql).fetchone()[0] for sql in _FACTS)
    made_at = now.astimezone(UTC).isoformat(timespec="seconds")
    return Manifest(FORMAT, made_at, __version__, schema, file.stat().st_size, _sha256(file), seal, rows, book, why)


_FACTS = (
    "SELECT version_num FROM alembic_version",
    "SELECT hash FROM seal ORDER BY id DESC LIMIT 1",
    "SELECT key FROM book",
)


def _damage(file: Path) -> str:
    """What SQLite finds wrong with a file; empty when it is sound."""
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            damage = connection.execute("PRAGMA quick_check").fetchone()[0]
            broken = connection.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.DatabaseError as error:
        return str(error)
    if damage != "ok":
        return str(damage).splitlines()[0]
    return f"a row of {broken[0]} refers to a missing {broken[2]}" if broken else ""


def _sha256(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()
