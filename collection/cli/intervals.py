"""intervals: how often units came in within limits as found, and what that says of how often work is done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.due import accepted_risk
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_procedure

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_RESTS_ON = ("equipment", "measurement", "maintenance", "people", "journal")
_KEYS = (
    "procedure", "class", "every_months", "every_hours", "units", "within", "came", "share_low", "share_high",
    "months_after", "end_low", "end_high", "sure_months", "proposal", "months", "by", "sentence", "rests_on", "missing",
    "edit",
)  # fmt: skip
_EMPTY = "No unit here has work with an interval in months that reads anything. See: spindlebook procedure list"


@click.command("intervals")
@click.argument("procedure", required=False, shell_complete=complete_procedure)
@click.option("--risk", metavar="PERCENT", callback=accepted_risk, help="Accepted risk, as 5% (else the book's).")
@past_options
@output_options
@click.pass_obj
def intervals_command(face: Face, /, procedure: str | None, risk: float | None, mode: Mode) -> None:
    """Propose longer or shorter intervals by how units came in.

    Per procedure and class of units: how often all that was read as found was within its limits, for how many months
    that surely is as often as wanted, and whether another interval is proposed. With PROCEDURE every visit that this
    rests on. Readings are less what their instruments are known to read off. The wanted share is all but the accepted
    risk. Nothing is changed: the line to type stands below.

    Keys of --json: procedure, class, every_months, every_hours, units, within, came, share_low, share_high,
    months_after, end_low, end_high, sure_months, proposal (longer, shorter, same, too little), months, by (counts,
    numbers), sentence, rests_on, missing, edit; with PROCEDURE: visits (list of objects).
    """
    from collection.store.book import open_book

    with face.view() as connection:
        settings = open_book(connection).settings
        accepted = settings.risk if risk is None else risk
        found = _found(face, connection, accepted, procedure)
    rows = found["rows"]
    if mode != "table":
        keys = _KEYS if procedure is None or mode == "csv" else (*_KEYS, "visits")
        emit(rows, [Column(key) for key in keys], mode)
        return
    told = [row for row in rows if row["came"]]
    emit(list(_shown(told)), _columns(accepted), mode, empty="" if rows else _EMPTY, under="said")
    if procedure is not None:
        _show_visits(told, settings.date_form)
    say(*_below(rows, found["unmeasured"], accepted), *found["lines"])


def _found(face: Face, connection: Connection, risk: float, procedure: str | None) -> dict[str, Any]:
    """Return what was found as plain values, kept from run to run: correcting readings takes a fit of the fleet."""
    from collection.store.cache import state_key

    cache, name = face.cache(connection), "intervals" if procedure is None else "interval"
    key = state_key(connection, _RESTS_ON, face.today, risk, procedure)
    kept: dict[str, Any] | None = cache.load(name, key)
    if kept is not None:
        return kept
    from collection.views.intervals import intervals, lines_to_type
    from collection.views.list_rows import interval_row

    made = intervals(connection, face.today, risk, procedure)
    rows = list(map(interval_row, made.rows))
    found = {"rows": rows, "unmeasured": list(made.unmeasured), "lines": lines_to_type(made.rows)}
    cache.save(name, key, found)
    return found


def _shown(rows: Sequence[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield rows with what a person reads in the place of several keys; a procedure is named once."""
    from collection.analysis.interval_words import counted, in_short

    named = ""
    for row in rows:
        yield row | {
            "procedure": "" if row["procedure"] == named else row["procedure"],
            "within": counted(row["within"], row["came"], row["share_low"], row["share_high"]),
            "proposal": in_short(row["proposal"], row["months"]),
            "said": f"{row['sentence']} {row['missing']}".rstrip(),
        }
        named = row["procedure"]


def _columns(risk: float) -> list[Column]:
    from collection.analysis.interval_words import months_words
    from collection.analysis.recheck import show_risk

    return [
        Column("procedure"),
        Column("class"),
        Column("within", "as found within"),
        Column("sure_months", f"{show_risk(1 - risk)} for", lambda n: months_words(n) if n else "no month", right=True),
        Column("proposal"),
    ]


def _show_visits(rows: Sequence[dict[str, Any]], form: str) -> None:
    from collection.quantity import show_day

    def day(text: str) -> str:
        return show_day(text, form)

    columns = (
        Column("tag"),
        Column("day", show=day),
        Column("months", "months after", lambda number: f"{number:.1f}", right=True),
        Column("within", show=lambda is_within: "within" if is_within else "outside"),
        Column("found", "as found"),
    )
    for row in rows:
        say("", f"{row['procedure']}: {row['class']}", bold=True)
        emit(row["visits"], columns)
    say("")


def _below(rows: Sequence[dict[str, Any]], unmeasured: Sequence[str], risk: float) -> Iterator[str]:
    """Yield what stands under the list: what a column means, what nothing tells of, the method."""
    from collection.analysis.interval_words import METHOD, STEPS
    from collection.analysis.recheck import show_risk

    share = show_risk(1 - risk)
    if any(row["came"] for row in rows):
        yield f"{share} for: so long after it is done at least {share} of the units are surely within limits still."
    silent: dict[str, list[str]] = {}
    for row in rows:
        if not row["came"]:
            silent.setdefault(row["procedure"], []).append(row["class"])
    for procedure, classes in silent.items():
        yield f"Nothing read as found yet: {procedure} ({', '.join(classes)})."
    if unmeasured:
        yield f"Nothing is read that could tell: {', '.join(unmeasured)}."
    by_hours = dict.fromkeys(row["procedure"] for row in rows if row["every_hours"])
    if by_hours:
        yield f"Due by hours of running too, which is not judged: {', '.join(by_hours)}."
    if rows:
        yield METHOD
        yield STEPS
