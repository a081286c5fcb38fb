"""Backups: a copy of the book that is checked before it bears its name, with a manifest of digests beside it.

A file is copied by SQLite's backup interface, which sees one state while others write ("How To Corrupt An SQLite
Database File" 1.2, sqlite.org); a book on a server is copied row by row into such a file, so every backup is a book.
integrity_check is no checksum: one flipped bit in five goes unseen by it, so the manifest's SHA-256 decides.
"""

import hashlib
import json
import os
import sqlite3
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.engine import Engine

from collection import __version__
from collection.errors import Moved, Refused
from collection.store.copy import copy_into_file
from collection.store.engine import HEAD, must_exist, reading
from collection.store.place import beside, put_in_place, put_over

FORMAT = "spindlebook backup 1"


class Damaged(Refused):
    """What stands in the book's place is no longer a sound book."""


@dataclass(frozen=True)
class Manifest:
    """What a backup holds: enough to refuse a damaged or a wrong file."""

    format: str
    made_at: str
    program: str
    schema: str
    size: int
    sha256: str
    last_seal: str
    rows: dict[str, int]


def manifest_path(file: Path) -> Path:
    """Where the manifest of a backup stands."""
    return file.with_name(file.name + ".manifest.json")


def back_up(engine: Engine, file: Path, now: datetime, *, older: bool = False) -> Manifest:
    """Copy the book of ``engine`` to ``file``, verified; refused when something stands there.

    ``older`` allows a book in a file whose schema is not this program's, as an upgrade has before it.
    """
    must_exist(engine)
    for path in (file, manifest_path(file)):
        if os.path.lexists(path):
            raise _taken(str(path))
    if not file.absolute().parent.is_dir():
        raise Refused(f"There is no folder {file.absolute().parent}.", "Make it first, or choose another place.")
    with beside(file) as temporary:
        _copy(engine, temporary, older)
        manifest = _describe(temporary, now)
        try:
            _put_both(temporary, file, manifest)
        except FileExistsError as error:
            raise _taken(str(error.filename)) from None
    return manifest


def _put_both(temporary: Path, file: Path, manifest: Manifest) -> None:
    """Give the manifest its name first, so that no backup is ever without it, and take it back if the backup fails."""
    _write_manifest(file, manifest)
    try:
        put_in_place(temporary, file)
    except BaseException:
        manifest_path(file).unlink()
        raise


def _taken(path: str) -> Refused:
    return Refused(f"There is something at {path} already; a backup overwrites nothing.", "Choose another name.")


def check_backup(file: Path) -> Manifest:
    """Return the manifest of a backup whose file is just what the manifest says; refused otherwise."""
    if not file.is_file():
        raise Refused(f"There is no backup at {file}.", "Give the file that spindlebook backup wrote.")
    manifest = _read_manifest(file)
    if file.stat().st_size != manifest.size or _sha256(file) != manifest.sha256:
        raise Refused(f"{file} is not what was backed up: its digest differs.", "Take another backup of the book.")
    if manifest.schema != HEAD:
        raise Refused(
            f"{file} has schema {manifest.schema}, this program {HEAD}.", "Restore it with the program it came from."
        )
    damage = _damage(file)
    if damage:
        raise Refused(f"{file} is not a sound book: {damage}.", "Give an earlier backup.")
    return manifest


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


def _copy(engine: Engine, temporary: Path, older: bool) -> None:
    if engine.dialect.name != "sqlite":
        with reading(engine) as connection:
            copy_into_file(connection, str(temporary))
        return
    if not older:
        with reading(engine):
            pass  # a foreign or newer file is refused here
    live = str(engine.url.database)
    with closing(sqlite3.connect(live, timeout=5)) as source, closing(sqlite3.connect(temporary)) as target:
        source.backup(target)


def _describe(file: Path, now: datetime) -> Manifest:
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
        schema = connection.execute("SELECT version_num FROM alembic_version").fetchone()[0]
        seal = connection.execute("SELECT hash FROM seal ORDER BY id DESC LIMIT 1").fetchone()[0]
    made_at = now.astimezone(UTC).isoformat(timespec="seconds")
    return Manifest(FORMAT, made_at, __version__, schema, file.stat().st_size, _sha256(file), seal, rows)


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


def _read_manifest(file: Path) -> Manifest:
    path = manifest_path(file)
    try:
        read = json.loads(path.read_text(encoding="utf-8"))
        manifest = Manifest(**read)
    except FileNotFoundError:
        raise Refused(
            f"{path} is missing; without its manifest a backup cannot be checked.", "Keep both together."
        ) from None
    except (ValueError, TypeError):
        raise _not_a_manifest(path) from None
    if manifest.format != FORMAT:
        raise _not_a_manifest(path)
    return manifest


def _not_a_manifest(path: Path) -> Refused:
    return Refused(f"{path} is not the manifest of a backup.", "Give a file that spindlebook backup wrote.")


def _write_manifest(file: Path, manifest: Manifest) -> None:
    path = manifest_path(file)
    with beside(path) as temporary:
        temporary.write_text(json.dumps(asdict(manifest), indent=1) + "\n", encoding="utf-8")
        put_in_place(temporary, path)


def _sha256(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()
