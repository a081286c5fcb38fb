"""What a round shows: the line that is asked of a unit, and what came of it in the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from collection.cli.round_ask import Question, lay_beside
from collection.cli.show import Column, Mode, emit, note, say
from collection.quantity import show_day
from collection.views.findings import in_words, show_range, show_value

if TYPE_CHECKING:
    from collection.acts.rounds import Line, Round, RoundDone
    from collection.views.readings import Last
    from collection.views.rounds import Stop
    from collection.views.units import Unit


def questions_of(on_round: Round, form: str) -> list[Question]:
    """Return what is asked of each unit; days are in the book's date form."""
    rows = [
        (
            stop.unit.tag,
            stop.unit.location,
            _last(stop, form),
            f"limit {show_range(stop.limit)}" if show_range(stop.limit) else "",
            "" if on_round.subject.measurement else f"{_done(stop, form)}  done (y)",
        )
        for stop in on_round.stops.at
    ]
    return [
        Question(stop.unit.tag, place.rstrip()) for stop, place in zip(on_round.stops.at, lay_beside(rows), strict=True)
    ]


def form_lines(stops: Sequence[Stop], form: str) -> list[tuple[str, str, str, str, str]]:
    """Return what a form shows of each unit: tag, place, last value or nothing, its day, limit."""
    return [
        (
            stop.unit.tag,
            stop.unit.location,
            result_of(stop.last) if stop.last else "",
            show_day(stop.last.taken_on if stop.last else stop.last_done, form) if stop.last or stop.last_done else "",
            show_range(stop.limit),
        )
        for stop in stops
    ]


def result_of(last: Last) -> str:
    """Return a last value or grade without its unit."""
    return last.grade or show_value(last.value or 0.0)


def seen_in(line: Line) -> str:
    """Return what a person should see in an answer that was just typed, or nothing."""
    said = _says(line)
    return "; ".join(filter(None, (f"{said} ({show_range(line.limit)})" if said and line.limit else said, line.rule)))


def show_round(
    done: RoundDone, on_round: Round | None, mode: Mode, form: str, measurement: str, procedure: str
) -> None:
    """Print one line per unit, then the sums; units that were not told stand among them as passed over."""
    told = {line.tag for line in done.lines}
    passed = [stop for stop in on_round.stops.at if stop.unit.tag not in told] if on_round else []
    lines = [line for line in done.lines if line.kind != "skipped"]
    rows = [_row(line, measurement, procedure, form) for line in lines]
    shown = {line.tag for line in lines}
    tags = [line.tag for line in done.of("skipped") if line.tag not in shown] + [stop.unit.tag for stop in passed]
    if mode != "table":
        skipped = [_empty(measurement, procedure) | {"kind": "skipped", "tag": tag} for tag in tags]
        emit(rows + skipped, _COLUMNS, mode)
    else:
        emit(rows, _COLUMNS, mode)
    tell = say if mode == "table" else note
    tell(*_below(lines, tags, on_round.stops.left_out if on_round else ()))


def _last(stop: Stop, form: str) -> str:
    if stop.last is None:
        return "never read" if stop.point or stop.limit else ""
    return f"last {result_of(stop.last)} on {show_day(stop.last.taken_on, form)}"


def _done(stop: Stop, form: str) -> str:
    return f"last done {show_day(stop.last_done, form)}" if stop.last_done else "never recorded"


def _says(line: Line) -> str:
    return "" if line.says in (None, "within", "no limit") else str(line.says)


def _empty(measurement: str, procedure: str) -> dict[str, Any]:
    row: dict[str, Any] = {column.key: None for column in _COLUMNS}
    return row | {"measurement": measurement or None, "procedure": procedure or None, "notes": []}


def _row(line: Line, measurement: str, procedure: str, form: str) -> dict[str, Any]:
    read = line.says is not None
    was = f"{result_of(line.last)} on {show_day(line.last.taken_on, form)}" if line.last else None
    remarks = ["" if read or line.rule else "done", line.rule, line.hint if line.kind == "refused" else "", *line.notes]
    return _empty(measurement, procedure) | {
        "kind": line.kind,
        "row": line.row or None,
        "tag": line.tag,
        "location": line.location or None,
        "point": line.point or None,
        "last": was,
        "value": line.value,
        "result": line.grade or line.result,
        "result_in": line.measured_in or None,
        "reading": in_words(line.result, line.grade, line.measured_in, line.limit, line.says) if line.says else None,
        "limit": show_range(line.limit) or None,
        "lower": line.limit.lower if line.limit else None,
        "upper": line.limit.upper if line.limit else None,
        "says": ("ok" if line.says == "within" else line.says) if read else None,
        "rule": line.rule or None,
        "notes": line.notes,
        "remarks": " ".join(filter(None, (_KINDS.get(line.kind, ""), *remarks))),
    }


def _below(lines: Sequence[Line], skipped: Sequence[str], left_out: Sequence[Unit]) -> Iterator[str]:
    good = [line for line in lines if line.kind in ("new", "doubtful", "same")]
    parts = [f"{len(good)} told"]
    for word in ("high", "low", "marginal", "fail"):
        tags = [line.tag for line in good if line.says == word]
        if tags:
            parts.append(f"{len(tags)} {word} ({', '.join(tags)})")
    for kind in ("doubtful", "same", "refused"):
        number = sum(line.kind == kind for line in lines)
        if number:
            parts.append(f"{number} {'in the book already' if kind == 'same' else kind}")
    if skipped:
        parts.append(f"{len(skipped)} passed over ({_some(skipped)})")
    yield ", ".join(parts) + "."
    if left_out:
        yield f"Left out: {_some([f'{unit.tag} ({unit.standing})' for unit in left_out])}."


def _some(names: Sequence[str]) -> str:
    most = 12
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


_KINDS = {"refused": "Refused:", "doubtful": "Doubtful:"}
_COLUMNS = (
    Column("kind", in_table=False),
    Column("row"),
    Column("tag"),
    Column("location"),
    Column("measurement", in_table=False),
    Column("procedure", in_table=False),
    Column("point"),
    Column("last"),
    Column("value", in_table=False),
    Column("result", in_table=False),
    Column("result_in", in_table=False),
    Column("reading", "now"),
    Column("limit"),
    Column("lower", in_table=False),
    Column("upper", in_table=False),
    Column("says"),
    Column("rule", in_table=False),
    Column("notes", in_table=False),
    Column("remarks"),
)
