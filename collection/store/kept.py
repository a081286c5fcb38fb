"""The folder in which backups are kept: how they are named there, which ones stand in it, when the last was made."""

import itertools
import json
import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.engine import Engine

from collection.errors import Refused
from collection.store.engine import fetch, opened
from collection.store.manifest import Manifest, backup_path, manifest_in, manifest_path, read_manifest
from collection.store.place import beside

_GOING = ".going"


@dataclass(frozen=True)
class Kept:
    """A backup and what its manifest says."""

    file: Path
    manifest: Manifest

    @property
    def made_at(self) -> datetime:
        """The instant at which it was made, in UTC."""
        return datetime.fromisoformat(self.manifest.made_at)


@dataclass(frozen=True)
class Last:
    """A backup that was made: when, of which state, and where it was put then."""

    made_at: datetime
    seal: str
    file: str


def free_names(folder: Path, engine: Engine, why: str, now: datetime) -> Iterator[Path]:
    """Yield names for a backup made now, those that are free; why becomes part of the name."""
    stem = Path(str(engine.url.database)).stem
    name = "-".join([stem, now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ"), *why.split()])
    for number in itertools.count(1):
        file = folder / (name if number == 1 else f"{name}-{number}")
        if not os.path.lexists(file) and not os.path.lexists(manifest_path(file)):
            yield file


def backups_in(folder: Path, book: str | None) -> list[Kept]:
    """The backups of one book that stand in a folder, the oldest first; their files are not looked into.

    book: its id; None for those of any book. What has no manifest that can be read is passed by.
    """
    found = []
    for path in folder.glob("*.manifest.json") if folder.is_dir() else ():
        file = backup_path(path)
        if file is None or not file.is_file():
            continue
        with suppress(Refused, OSError):
            manifest = read_manifest(file)
            if book in (manifest.book, None):
                found.append(Kept(file, manifest))
    return sorted(found, key=lambda kept: (kept.made_at, kept.file.name))


def remove(kept: Kept) -> None:
    """Remove a backup with its manifest; what is gone already is no failure.

    The manifest gets a hidden name first, which says that both are to go: cut off between any two steps, what is left
    is no backup any more and stands in nobody's way, and ``end_removals`` takes it away.
    """
    hidden = _hidden(kept.file)
    with suppress(FileNotFoundError):
        manifest_path(kept.file).replace(hidden)
    kept.file.unlink(missing_ok=True)
    hidden.unlink(missing_ok=True)


def cut_off(folder: Path) -> list[Path]:
    """The backups of a folder whose removal was cut off; their files may be there still.

    What bears such a name and is no manifest is another program's, and so is the file beside it.
    """
    marks = sorted(folder.glob(f".*{_GOING}")) if folder.is_dir() else []
    return [mark.with_name(mark.name[1 : -len(_GOING)]) for mark in marks if _is_manifest(mark)]


def _is_manifest(mark: Path) -> bool:
    with suppress(Refused, OSError):
        manifest_in(mark)
        return True
    return False


def end_removals(folder: Path) -> int:
    """Remove what removals that were cut off have left; returns of how many backups."""
    files = cut_off(folder)
    for file in files:
        if not manifest_path(file).exists():  # one has it where the name was given again since
            file.unlink(missing_ok=True)
        _hidden(file).unlink(missing_ok=True)
    return len(files)


def _hidden(file: Path) -> Path:
    return file.with_name(f".{file.name}{_GOING}")


def zone_of(file: Path) -> str:
    """The time zone of the book that a checked backup holds, in whatever schema."""
    with opened(str(file)) as engine, engine.connect() as connection:
        return str(fetch(connection, "SELECT time_zone FROM book")[0][0])


def others_in(folder: Path, known: Sequence[Kept]) -> list[Path]:
    """The files of a folder that belong to none of the ``known`` backups, nor to one whose removal was cut off."""
    own = {path for kept in known for path in (kept.file, manifest_path(kept.file))}.union(cut_off(folder))
    return [path for path in sorted(folder.iterdir()) if path not in own and not path.name.startswith(".")]


def remember(state: Path, kept: Kept) -> None:
    """Note in the state folder that a backup was made, wherever it was put; a place that cannot be written has none."""
    told = {"made_at": kept.manifest.made_at, "seal": kept.manifest.last_seal, "file": str(kept.file.absolute())}
    file = _note_path(state, kept.manifest.book)
    with suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True)
        with beside(file) as temporary:
            temporary.write_text(json.dumps(told), encoding="utf-8")
            temporary.replace(file)


def made_so_far(folder: Path, state: Path, book: str) -> list[Last]:
    """The backups of a book that are known of here, the newest first: those kept, and the last one put elsewhere."""
    found = [Last(kept.made_at, kept.manifest.last_seal, str(kept.file)) for kept in backups_in(folder, book)]
    with suppress(OSError, ValueError, KeyError, TypeError, RecursionError, OverflowError):
        told = json.loads(_note_path(state, book).read_text(encoding="utf-8"))
        made_at = datetime.fromisoformat(told["made_at"]).astimezone(UTC)
        found.append(Last(made_at, str(told["seal"]), str(told["file"])))
    return sorted(found, key=lambda last: last.made_at, reverse=True)


def _note_path(state: Path, book: str) -> Path:
    return state / "backups" / f"{book}.json"
