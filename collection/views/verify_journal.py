"""The journal's own rules: the hash chain, what was taken back, and the counters of what was touched."""

from collections import Counter
from collections.abc import Callable, Iterator

from sqlalchemy.engine import Connection

from collection.schema import SUBJECT_OF
from collection.store.chain import START, act_hash, dead_acts, root_act
from collection.store.engine import fetch
from collection.store.stream import Beside, rows_of
from collection.views.broken import Broken
from collection.views.verify_appended import appended_rows_are_as_written
from collection.views.verify_replay import tables_follow_from_the_journal

_ACTS = "SELECT id, key, at, today, who_id, command, reason, undoes_id FROM act ORDER BY id"
_SEALS = "SELECT act_id, summary, previous_hash, hash FROM seal ORDER BY act_id"
_CHANGES = (
    "SELECT act_id, kind, table_name, row_id, version, before, after, rows, digest FROM change ORDER BY act_id, id"
)


def chain_is_whole(connection: Connection) -> Iterator[Broken]:
    """Every act has one seal, each seal carries the hash before it, and every hash can be computed again."""
    rule = "the chain of acts is whole"
    seals, changes = Beside(rows_of(connection, _SEALS)), Beside(rows_of(connection, _CHANGES))
    previous = START
    for act in rows_of(connection, _ACTS):
        written = changes.of(act[0])
        found = seals.of(act[0])
        if not found:
            yield Broken(rule, "act", act[0], "it was never sealed")
            continue
        _, summary, before, sealed = found[0]
        if before != previous:
            yield Broken(rule, "seal", act[0], "it does not follow the act before it")
        if act_hash(before, act, (change[1:] for change in written), summary) != sealed:
            yield Broken(rule, "act", act[0], "the act or one of its changes was altered")
        previous = sealed


def undone_follows_from_the_journal(connection: Connection) -> Iterator[Broken]:
    """The acts that count for nothing are those that an act which counts has taken back."""
    wanted = dead_acts(
        (a, u) for a, u in fetch(connection, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL")
    )
    present = {row[0]: row[1] for row in fetch(connection, "SELECT act_id, by_id FROM undone")}
    for act_id in sorted(wanted.keys() ^ present.keys()):
        says = "it was taken back but counts" if act_id in wanted else "it counts for nothing, yet nobody took it back"
        yield Broken("an undone act counts for nothing", "act", act_id, says)


def counters_follow_from_the_journal(connection: Connection) -> Iterator[Broken]:
    """A subject's counter is the number of acts that touched it, so that no computed result outlives a change."""
    undoes = dict(fetch(connection, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL"))
    roots = {act_id: root_act(undoes, act_id) for act_id in undoes}
    of_root: dict[int, set[str]] = {root: set() for root in roots.values()}
    touched: Counter[str] = Counter()
    changes = Beside(rows_of(connection, "SELECT act_id, table_name FROM change ORDER BY act_id, id"))
    for (act_id,) in rows_of(connection, "SELECT id FROM act ORDER BY id"):
        subjects = {SUBJECT_OF.get(str(table), str(table)) for _, table in changes.of(act_id)}
        if act_id in of_root:
            of_root[act_id] = subjects
        touched.update(subjects | of_root.get(roots.get(act_id, 0), set()))
    present = dict(fetch(connection, "SELECT subject, value FROM counter WHERE row_id = 0"))
    for subject in sorted(touched.keys() | present.keys()):
        if present.get(subject, 0) != touched[subject]:
            says = f"{subject} stands at {present.get(subject, 0)}, {touched[subject]} acts touched it"
            yield Broken("counters follow the acts", "counter", None, says)


RULES: tuple[Callable[[Connection], Iterator[Broken]], ...] = (
    chain_is_whole,
    appended_rows_are_as_written,
    tables_follow_from_the_journal,
    undone_follows_from_the_journal,
    counters_follow_from_the_journal,
)
