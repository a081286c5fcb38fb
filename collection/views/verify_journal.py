"""The journal's own rules: the hash chain, what each act appended, what was taken back, and the counters."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence

from sqlalchemy.engine import Connection

from collection.schema import SUBJECT_OF
from collection.store.chain import START, dead_acts, root_act, row_texts, texts_hash
from collection.store.engine import fetch
from collection.store.stream import Beside, Row, batches
from collection.views.broken import Broken
from collection.views.verify_appended import Appended
from collection.views.verify_replay import tables_follow_from_the_journal

_ACTS = "SELECT id, key, at, today, who_id, command, reason, undoes_id FROM act ORDER BY id"
_SEALS = "SELECT act_id, summary, previous_hash, hash FROM seal ORDER BY act_id"
_CHANGES = (
    "SELECT act_id, kind, table_name, row_id, version, before, after, rows, digest FROM change ORDER BY act_id, id"
)


def journal_is_whole(connection: Connection) -> Iterator[Broken]:
    """The chain of acts is whole, appended rows are as their acts wrote them, and counters follow the acts.

    The journal is walked once for all of it: it is the largest part of a book.
    """
    acts, seals = _texts(batches(connection, _ACTS)), Beside(_seals(batches(connection, _SEALS)))
    changes = Beside(_texts(batches(connection, _CHANGES)))
    chain, appended, touched = _Chain(), Appended(connection), _Touched(connection)
    for act_id, _, text in acts:
        written = changes.of(act_id)
        yield from chain.see(act_id, [text, *(change[2] for change in written)], seals.of(act_id))
        yield from appended.see([change[1] for change in written])
        touched.see(act_id, [change[1] for change in written])
    yield from appended.end()
    yield from touched.end(connection)


def _texts(rows: Iterable[list[Row]]) -> Iterator[Row]:
    """Number, row and canonical text without brackets; a change has its number, which is its act's, twice."""
    for some in rows:
        yield from ((row[0], row, text) for row, text in zip(some, row_texts(row[-8:] for row in some), strict=True))


def _seals(rows: Iterable[list[Row]]) -> Iterator[Row]:
    """The act, the canonical text of its summary, and both hashes."""
    for some in rows:
        texts = row_texts((row[1],) for row in some)
        yield from ((row[0], text, *row[2:]) for row, text in zip(some, texts, strict=True))


class _Chain:
    """Every act has one seal, each seal carries the hash before it, and every hash can be computed again."""

    def __init__(self) -> None:
        self._previous = START

    def see(self, act_id: int, texts: Sequence[str], seals: Sequence[Row]) -> Iterator[Broken]:
        """Hold an act against its seal; texts: its own and those of its changes."""
        rule = "the chain of acts is whole"
        if not seals:
            yield Broken(rule, "act", act_id, "it was never sealed")
            return
        _, summary, before, sealed = seals[0]
        if before != self._previous:
            yield Broken(rule, "seal", act_id, "it does not follow the act before it")
        if texts_hash(before, texts, summary) != sealed:
            yield Broken(rule, "act", act_id, "the act or one of its changes was altered")
        self._previous = sealed


class _Touched:
    """A subject's counter is the number of acts that touched it, so that no computed result outlives a change."""

    def __init__(self, connection: Connection) -> None:
        undoes = dict(fetch(connection, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL"))
        self._roots = {act_id: root_act(undoes, act_id) for act_id in undoes}
        self._of_root: dict[int, set[str]] = {root: set() for root in self._roots.values()}
        self._acts: Counter[str] = Counter()

    def see(self, act_id: int, changes: Sequence[Row]) -> None:
        """Note which subjects an act touched."""
        subjects = {SUBJECT_OF.get(str(change[2]), str(change[2])) for change in changes}
        if act_id in self._of_root:
            self._of_root[act_id] = subjects
        self._acts.update(subjects | self._of_root[self._roots[act_id]] if act_id in self._roots else subjects)

    def end(self, connection: Connection) -> Iterator[Broken]:
        """Compare with the counters."""
        present = dict(fetch(connection, "SELECT subject, value FROM counter WHERE row_id = 0"))
        for subject in sorted(self._acts.keys() | present.keys()):
            if present.get(subject, 0) != self._acts[subject]:
                says = f"{subject} stands at {present.get(subject, 0)}, {self._acts[subject]} acts touched it"
                yield Broken("counters follow the acts", "counter", None, says)


def undone_follows_from_the_journal(connection: Connection) -> Iterator[Broken]:
    """The acts that count for nothing are those that an act which counts has taken back."""
    wanted = dead_acts(
        (a, u) for a, u in fetch(connection, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL")
    )
    present = {row[0]: row[1] for row in fetch(connection, "SELECT act_id, by_id FROM undone")}
    for act_id in sorted(wanted.keys() ^ present.keys()):
        says = "it was taken back but counts" if act_id in wanted else "it counts for nothing, yet nobody took it back"
        yield Broken("an undone act counts for nothing", "act", act_id, says)


RULES: tuple[Callable[[Connection], Iterator[Broken]], ...] = (
    journal_is_whole,
    tables_follow_from_the_journal,
    undone_follows_from_the_journal,
)
