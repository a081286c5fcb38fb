"""Where backups are kept, the one made before an import, and the line about a last one that is old."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from collection.cli.face import Face, state_folder

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.views.backup_age import BackupAge


def backups_folder(face: Face) -> Path:
    """Return where backups are kept: beside the book's file, or in the state folder for a book on a server."""
    from collection.store.engine import book_url

    url = book_url(face.location)
    if url.get_backend_name() == "sqlite":
        return Path(str(url.database)).parent / "kept"
    return state_folder() / "kept"


def keep_before_import(face: Face) -> None:
    """Keep the book aside as it is, unless a good backup of just this state is kept already."""
    from collection.acts.backups import keep_unless_kept

    keep_unless_kept(face.engine(), backups_folder(face), "before import", face.now)


def backup_age(face: Face, connection: Connection) -> BackupAge:
    """Return how old the last backup is that is known of here, and how many acts are newer."""
    from collection.store.book import open_book
    from collection.store.kept import made_so_far
    from collection.views.backup_age import age_of_last

    made = made_so_far(backups_folder(face), state_folder(), open_book(connection).key)
    return age_of_last(connection, made, face.now)


def said_of_old_backup(face: Face, connection: Connection) -> list[str]:
    """Return a line when the last backup is old, or there is none, while acts were written since; else nothing."""
    if face.looks_back:
        return []
    age = backup_age(face, connection)
    return [f"{age.said} Make one: spindlebook backup"] if age.is_old else []


def told_of_last(age: BackupAge) -> dict[str, Any]:
    """Return by the keys of `where` when the last backup was made, where it was put, and how many acts are newer."""
    last = age.last
    return {
        "last_backup": last.made_at.strftime("%Y-%m-%dT%H:%M:%SZ") if last else None,
        "last_backup_file": last.file if last else None,
        "acts_since_backup": age.acts_since,
    }
