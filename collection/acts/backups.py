"""Making backups in the folder where they are kept, and taking away those that the rule no longer keeps."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy.engine import Engine

from collection.analysis.keeping import Rule, kept_by
from collection.errors import Refused
from collection.store.backup import Taken, back_up, condition
from collection.store.engine import HEAD, fetch, must_exist, reading
from collection.store.kept import Kept, backups_in, free_names, remove


@dataclass(frozen=True)
class Judged:
    """A backup, its condition (see store.backup.condition) and what it stays for; an empty text where it may go."""

    kept: Kept
    condition: str
    stays: str


def keep(engine: Engine, folder: Path, why: str, now: datetime, *, revision: str = HEAD) -> Kept:
    """Back the book up into ``folder``, which is made where there is none, under a name of its own.

    why: for the manifest and the name, as "before import"; may be empty. revision: as for back_up.
    """
    must_exist(engine)
    with _folder_for(folder):
        return _keep(engine, folder, why, now, revision)


@contextmanager
def _folder_for(folder: Path) -> Iterator[None]:
    """Make a folder where there is none; where nothing came into it, it goes again."""
    folder.mkdir(parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        with suppress(OSError):  # it holds something
            folder.rmdir()
        raise


def _keep(engine: Engine, folder: Path, why: str, now: datetime, revision: str) -> Kept:
    for file in free_names(folder, engine, why, now):
        try:
            return Kept(file, back_up(engine, file, now, why=why, revision=revision))
        except Taken:  # by another keeper, in the same second
            continue
    raise AssertionError("names never end")


def keep_unless_kept(engine: Engine, folder: Path, why: str, now: datetime) -> Kept:
    """Back the book up into ``folder`` as ``keep``, but where a good backup there is of just this state, take that."""
    with reading(engine) as connection:
        book = fetch(connection, "SELECT key FROM book")[0][0]
        seal = fetch(connection, "SELECT hash FROM seal ORDER BY id DESC LIMIT 1")[0][0]
    for kept in reversed(backups_in(folder, book)):
        if (kept.manifest.last_seal, kept.manifest.schema) == (seal, HEAD) and condition(kept.file) == "good":
            return kept
    return keep(engine, folder, why, now)


def judge(backups: Iterable[Kept], zone: str, rule: Rule) -> list[Judged]:
    """Look into each backup and say what it stays for by the rule, the oldest first as they are given.

    zone: whose days count. The rule is for good ones alone; what is not good stays for somebody to look at.
    """
    looked = [(kept, condition(kept.file)) for kept in backups]
    good = [kept for kept, state in looked if state == "good"]
    stays = iter(kept_by([kept.made_at.astimezone(ZoneInfo(zone)) for kept in good], rule))
    return [Judged(kept, state, next(stays) if state == "good" else state) for kept, state in looked]


def prune(judged: Iterable[Judged]) -> None:
    """Remove the backups that may go, each with its manifest; at least one good one stays."""
    judged = list(judged)
    if not any(each.condition == "good" and each.stays for each in judged):
        raise Refused("No good backup would stay; nothing was removed.", "See them with: spindlebook backup list")
    for each in judged:
        if not each.stays:
            remove(each.kept)
