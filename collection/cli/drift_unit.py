"""drift TAG: the readings of one unit, raw and corrected, and what they foretell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from collection.cli.drift import what_of
from collection.cli.face import Face
from collection.cli.show import Column, Mode, emit, say, say_pairs
from collection.errors import Refused, fold, nearest, typed
from collection.views.drift_keys import KEYS, row_object

if TYPE_CHECKING:
    from collection.views.drift_rows import DriftReading, SeriesDrift

_RULES = {
    "limit": "now, its level or its last reading is outside its limits",
    "shortest": "shortest interval, with more than the accepted risk by then",
    "risk": "by then the risk of being outside is the accepted one",
    "span": "readings are trusted for twice their span",
    "longest": "longest interval",
}
SUSPECT = 0.5  # from here on a reading is more likely stray than not, a jump more likely than none
PICTURES = (".png", ".svg")


class Asked(NamedTuple):
    """Which series of a unit are asked for, till which day and at which accepted risk; None where it was not said."""

    tag: str
    measurement: str | None = None
    point: str | None = None
    by: date | None = None
    risk: float | None = None


def show_unit(face: Face, asked: Asked, plot: str | None, mode: Mode) -> None:
    """Show every series of a unit, or draw one."""
    file = None if plot is None else picture(plot, mode)
    form, found = unit_series(face, asked)
    if file is not None:
        from collection.exchange.plot_drift import plot_drift

        plot_drift(only_one(found, asked.tag), file, today=face.today)
        say(f"Drawn: {file}")
    elif mode == "json":
        emit([_object(one) for one in found], [Column(key) for key in (*KEYS, *_MORE)], mode)
    elif mode == "csv":
        emit([row_object(one.row) for one in found], [Column(key) for key in KEYS], mode)
    else:
        for number, one in enumerate(found):
            _show(one, form, first=not number)
        if not found:
            say(f"{asked.tag} has no reading in a unit of measure.")


def unit_series(face: Face, asked: Asked) -> tuple[str, list[SeriesDrift]]:
    """Return the book's date form, and the series of a unit that were asked for; Refused where there is none."""
    from collection.store.book import open_book
    from collection.views.drift import unit_drift
    from collection.views.units import find_unit

    with face.view() as connection:
        settings = open_book(connection).settings
        unit = find_unit(connection, asked.tag)
        accepted = settings.risk if asked.risk is None else asked.risk
        found = unit_drift(connection, unit.id, face.today, asked.by, accepted, asked.measurement)
    if asked.measurement is not None and not found:
        raise Refused(
            f'{unit.tag} has no reading of "{asked.measurement}".', f"See: spindlebook reading list {typed(unit.tag)}"
        )
    return settings.date_form, found if asked.point is None else _at(found, asked.point, unit.tag)


def _at(found: Sequence[SeriesDrift], point: str, tag: str) -> list[SeriesDrift]:
    """Return the series of a point, however its blanks are typed; Refused where there is none."""
    wanted = fold(point).replace(" ", "")
    chosen = [one for one in found if fold(one.row.point).replace(" ", "") == wanted]
    if not chosen:
        points = list(dict.fromkeys(one.row.point for one in found if one.row.point))
        near = nearest(point, points) or points
        hint = f"It has: {', '.join(near)}." if near else "It has no points; leave --point out."
        raise Refused(f'{tag} has no reading at the point "{point}".', hint)
    return chosen


def only_one(found: Sequence[SeriesDrift], tag: str) -> SeriesDrift:
    """Return the only series; Refused where there are several, naming them."""
    if not found:
        raise Refused(f"{tag} has no reading in a unit of measure.", "Take one, then: spindlebook reading add")
    if len(found) > 1:
        names = ", ".join(what_of(row_object(one.row)) for one in found)
        raise Refused(
            f"{tag} has {len(found)} series, and a picture shows one: {names}.",
            'Add --of "MEASUREMENT", and --point "POINT" where it has several.',
        )
    return found[0]


def picture(name: str, mode: Mode) -> Path:
    """Return the file of a picture; Refused for another ending, without its folder, and beside --json or --csv."""
    if mode != "table":
        raise Refused(f"--plot draws and --{mode} prints, and both are given.", "Leave one of them out.")
    file = Path(name).expanduser()
    if file.suffix.lower() not in PICTURES:
        raise Refused(f"{name} is no .png and no .svg file.", "Type --plot FILE.png or --plot FILE.svg.")
    if not file.parent.is_dir():
        raise Refused(f"There is no folder {file.parent}.", "Name a file in a folder that is there.")
    return file


_MORE = ("crossing", "readings_taken", "segments_cut", "path")


def _object(one: SeriesDrift) -> dict[str, Any]:
    return row_object(one.row) | {
        "crossing": one.crossing,
        "readings_taken": [_without_blanks(asdict(reading)) for reading in one.readings],
        "segments_cut": [_without_blanks(asdict(segment)) for segment in one.segments],
        "path": [asdict(point) for point in one.path],
    }


def _without_blanks(row: dict[str, Any]) -> dict[str, Any]:
    return {key: None if value == "" else value for key, value in row.items()}


def _show(one: SeriesDrift, form: str, *, first: bool) -> None:
    from collection.analysis.drift.shown import as_chance, as_range, with_uncertainty
    from collection.quantity import show_day

    row = one.row
    unit = f" {row.measured_in}"
    if not first:
        say("")
    say(f"{row.tag}: {row.measurement} {row.point}".rstrip() + f", {row.measured_in}", bold=True)
    level = with_uncertainty(row.level, row.level_low, row.level_high)
    as_read = "" if row.corrected else ", as read: nothing ties it to a reference"
    asked = as_range(row.by_low, row.by_high)
    limits = as_limits(row.lower, row.upper)
    say_pairs(
        (
            ("drift", row.sentence),
            ("ranks alone", one.ranks),
            ("now", level + unit + as_read if level else ""),
            ("limits", limits + unit if limits else "none: no chance of being outside can be told"),
            (f"on {show_day(row.by_date, form)}", _then(asked + unit, as_chance(row.chance_outside)) if asked else ""),
            ("forecast", one.crossing or ""),
            ("recheck by", f"{show_day(row.recheck_by, form)}: {_RULES[row.recheck_rule]}" if row.recheck_by else ""),
            ("rests on", row.rests_on),
            ("would help", row.missing),
        )
    )
    say("")
    emit(list(_reading_rows(one, form)), _reading_columns(form), under="set_anew")
    say(*_suspicions(one, form))


def as_limits(lower: float | None, upper: float | None) -> str:
    """Return limits as a person reads them: "295.5 to 304.5", "at most 100", "" for none."""
    if lower is not None and upper is not None:
        return f"{lower:.10g} to {upper:.10g}"
    if upper is not None:
        return f"at most {upper:.10g}"
    return "" if lower is None else f"at least {lower:.10g}"


def _then(shown: str, chance: str) -> str:
    return f"{shown} if nothing is done" + (f"; {chance} outside" if chance else "")


def _reading_rows(one: SeriesDrift, form: str) -> Iterator[dict[str, Any]]:
    """Yield the readings; below the last one of a segment stands what began the next."""
    from collection.analysis.drift.shown import as_known

    followed = [*one.readings[1:], None]
    for reading, after in zip(one.readings, followed, strict=True):
        corrected = reading.corrected if one.row.corrected else None
        yield asdict(reading) | {
            "remark": _remark(one, reading),
            "corrected": None if corrected is None else as_known(corrected, one.row.level_low, one.row.level_high),
            "set_anew": "; ".join(_set_between(one, reading, after, form)),
        }


def _set_between(one: SeriesDrift, reading: DriftReading, after: DriftReading | None, form: str) -> Iterator[str]:
    """Yield what set the level anew between two readings, or after the last one."""
    from collection.quantity import show_day

    if reading.segment is None:
        return
    last = len(one.segments) - 1 if after is None else after.segment
    for segment in one.segments[reading.segment + 1 : (reading.segment if last is None else last) + 1]:
        day = show_day(segment.since, form) if segment.since else ""
        slope = "new level, new slope" if segment.new_slope else "new level"
        unread = "" if segment.readings else ", not read since"
        yield f"-- {' '.join(filter(None, (day, segment.reset_by or 'set')))}: {slope}{unread}"


def _is_stray(one: SeriesDrift, reading: DriftReading) -> bool:
    """Say whether a reading is likely stray, and not what a service then set right.

    The last thing read as found before the level was set anew may well have been so: that is why it was set.
    """
    if reading.stray is None or reading.stray < SUSPECT:
        return False
    ended = one.segments[reading.segment].until if reading.segment is not None else ""
    later = (each for each in one.readings if each.segment == reading.segment and each.taken_on > reading.taken_on)
    return not (ended and reading.stage == "as found" and next(later, None) is None)


def _remark(one: SeriesDrift, reading: DriftReading) -> str:
    from collection.analysis.drift.shown import as_chance

    said = [f"not used: {reading.state}"] if reading.state else []
    if _is_stray(one, reading):
        said.append(f"stray? {as_chance(reading.stray)}")
    elif reading.stray is not None and reading.stray >= SUSPECT:
        said.append("far off before it was set")
    if reading.in_unit:
        said.append(f"in {reading.in_unit}")
    return ", ".join(said)


def _reading_columns(form: str) -> tuple[Column, ...]:
    from collection.quantity import show_day

    return (
        Column("taken_on", "day", lambda day: show_day(day, form) if day else ""),
        Column("value", "read", _number, right=True),
        Column("corrected", right=True),
        Column("instrument"),
        Column("stage"),
        Column("remark"),
    )


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def _suspicions(one: SeriesDrift, form: str) -> Iterator[str]:
    """Yield what looks wrong with single readings, and jumps that no service explains."""
    from collection.analysis.drift.words import jump_sentence
    from collection.quantity import show_day

    stray = [reading for reading in one.readings if _is_stray(one, reading)]
    for reading in one.readings:
        if reading.jump is not None and reading.jump_size and reading.jump >= SUSPECT:
            asked = jump_sentence(reading.taken_on, reading.jump_size, one.row.measured_in)
            yield f"{show_day(reading.taken_on, form)}: {asked}"
    set_aside = f"spindlebook reading set-aside {typed(one.row.tag)}"
    if len(stray) == 1:
        point = f' --point "{one.row.point}"' if one.row.point else ""
        yield (
            "The likely stray reading counts for next to nothing. If it was a slip: "
            f'{set_aside} "{one.row.measurement}"{point} --on {stray[0].taken_on} --reason WHY'
        )
    elif stray:
        yield (
            "Likely stray readings count for next to nothing. If one was a slip: spindlebook reading list "
            f"{typed(one.row.tag)} tells its number for {set_aside} --number N --reason WHY"
        )
