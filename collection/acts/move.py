"""Moving a book from a file to a database server, or back: a checked copy, while the book itself stays as it is."""

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.engine import Connection, Engine

from collection.acts.start import refuse_left_over
from collection.errors import Refused
from collection.store.engine import fetch, reading, writing
from collection.store.move import Contents, contents, copied, refuse_unfit, shown, target_url, told_when_cut
from collection.views.verify_journal import journal_is_whole


@dataclass(frozen=True)
class Copied:
    """What was copied: where to, rows and tables, acts in the chain, the last act's seal.

    has_password: the URL held one, which is not in ``place``.
    """

    place: str
    rows: int
    tables: int
    acts: int
    last_seal: str
    has_password: bool


def move_to(engine: Engine, location: str) -> Copied:
    """Copy the book of ``engine`` to an empty ``location``, and keep the copy only if it is the same to the last byte.

    Compared are the number and the digest of the rows of every table; then the copy's hash chain is walked. Nobody
    can write to the book meanwhile, and nothing is written to it. Raises NoBook without a connection to either place,
    Refused for a place that is not empty or not fit, and for a book whose chain is broken.
    """
    with writing(engine) as lock, reading(engine) as book:
        url = target_url(location)
        if url.get_backend_name() == "sqlite":
            refuse_left_over(Path(str(url.database)))
        refuse_unfit(url, lock)
        wanted = contents(book)
        _refuse_broken(book)
        place = f"to {shown(url)}" if engine.dialect.name == "sqlite" else "to one of the two places any more"
        with told_when_cut(place), copied(book, url) as copy:
            _refuse_other(wanted, contents(copy))
            _refuse_broken(copy)
            acts, seal = _end_of_chain(copy)
    rows = sum(count for count, _ in wanted.values())
    return Copied(shown(url), rows, len(wanted), acts, seal, url.password is not None)


def _refuse_other(wanted: Contents, found: Contents) -> None:
    for table, (rows, digest) in wanted.items():
        if found[table] != (rows, digest):
            raise Refused(
                f"The copy is not the same as the book: {table} has {rows} rows, the copy {found[table][0]}, and their"
                " digests differ; it was not kept.",
                "The book is untouched. Try again; if it happens twice: spindlebook verify",
            )


def _refuse_broken(connection: Connection) -> None:
    for broken in journal_is_whole(connection):
        raise Refused(
            f"The book breaks a rule of its own ({broken.rule}: {broken.table} {broken.row or ''}, {broken.says});"
            " nothing was copied.",
            "See all that is wrong with: spindlebook verify",
        )


def _end_of_chain(connection: Connection) -> tuple[int, str]:
    acts = fetch(connection, "SELECT count(*) FROM act")[0][0]
    return acts, fetch(connection, "SELECT hash FROM seal ORDER BY id DESC LIMIT 1")[0][0]
