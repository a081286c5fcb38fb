"""medium: the disks that units are read, cleaned and tried with."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say, say_pairs
from collection.cli.tags import complete_tag
from collection.views.list_rows import medium_row

if TYPE_CHECKING:
    from collection.analysis.checks import Check
    from collection.views.checks import CheckRow
    from collection.views.media import MediumRow, UseRow

P = ParamSpec("P")
T = TypeVar("T")
RESULTS = ("pass", "marginal", "fail")
ROLES = ("reference", "scratch", "cleaning", "known good")


def _told(command: Callable[P, T]) -> Callable[P, T]:
    """Add the options of what is written of a disk; one that is not given is None."""
    for option in (
        click.option("--note", metavar="TEXT", help="Anything else."),
        click.option("--check-every", metavar="MONTHS", help='Months between checks, "never" for none.'),
        click.option("--most-uses", metavar="NUMBER", help="Uses it is good for, as of a cleaning disk."),
        click.option("--unit", metavar="TAG", shell_complete=complete_tag, help="The unit that it is, by its tag."),
        click.option("--condition", metavar="TEXT", help="As it is: unmarked, light scratch on side 1."),
        click.option("--size", metavar="TEXT", help='As 3.5", 5.25" HD.'),
    ):
        command = option(command)
    return command


def check_options(command: Callable[P, T]) -> Callable[P, T]:
    """Add what is told of a check of an instrument or a disk."""
    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print JSON: one object."),
        click.option("--note", default="", metavar="TEXT", help="What was seen."),
        click.option("--by", default="", metavar="PERSON", help="Who checked it."),
        click.option("--on", default="", metavar="DATE", help="Day of the check (else today)."),
        click.argument("result", type=click.Choice(RESULTS)),
        click.argument("name"),
    ):
        command = option(command)
    return command


def retire_options(command: Callable[P, T]) -> Callable[P, T]:
    """Add what is told of an instrument or a disk that goes."""
    without = "Why a reference goes without three units read with both."
    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print JSON: one object."),
        click.option("--anyway", default="", metavar="REASON", help=without),
        click.option("--on", default="", metavar="DATE", help="Its last day (else today)."),
        click.option("--reason", required=True, metavar="TEXT", help="Why it goes."),
        click.argument("name"),
    ):
        command = option(command)
    return command


@click.group("medium")
def medium_group() -> None:
    """Keep the disks that units are read, cleaned and tried with."""


@medium_group.command("add")
@click.argument("name")
@click.option("--role", default="", metavar="ROLE", help=", ".join(ROLES) + ".")
@click.option("--from", "from_date", default="", metavar="DATE", help="In use since (else today).")
@_told
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def add_command(face: Face, /, name: str, as_json: bool, **told: Any) -> None:
    """Add a disk: reference, scratch, cleaning or known good.

    Readings that name it (--disk) count as uses, one for a service, or for a day without one.
    """
    from collection.acts.media import add_medium

    row = add_medium(face.engine(), name, given(told), today=face.today, now=face.now)
    _show(row, as_json, f'Added "{row.name}", {row.role}.')


@medium_group.command("list")
@click.option("--role", type=click.Choice(ROLES), help="Only these.")
@click.option("--all", "retired_too", is_flag=True, help="Retired ones too.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, role: str | None, retired_too: bool, sort: str, mode: Mode) -> None:
    """List disks, their uses and their checks.

    Keys of --json: medium, role, size, unit, condition, from_date, uses, most_uses, left, last_used, checked_on,
    result, check_every_months, check_due, retired_on, retired_reason, note.
    """
    from collection.store.book import open_book
    from collection.views.media import media_rows, unknown_disks

    with face.view() as conn:
        rows, unknown = media_rows(conn, face.today), unknown_disks(conn)
        form = open_book(conn).settings.date_form
    shown = [row for row in rows if (retired_too or not row.retired_on) and role in (None, row.role)]
    empty = 'No disk yet. Type: spindlebook medium add "NAME" --role reference'
    listed = in_order([medium_row(row) | _in_table(row, form) for row in shown], _columns("json"), sort)
    emit(listed, _columns(mode), mode, empty=empty)
    if unknown and mode == "table":
        named = ", ".join(f"{name} ({times})" for name, times in unknown[:8])
        say(f"Named in readings and not listed, with times used: {named}; to list one: spindlebook medium add")


@medium_group.command("show")
@click.argument("name")
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, /, name: str, as_json: bool) -> None:
    """Show a disk with its uses and its checks.

    Keys of --json: those of medium list; used (used_on, times, tag, service, note) and checks (checked_on, result, by,
    note), the newest first.
    """
    from collection.store.book import open_book
    from collection.views.checks import checks_of
    from collection.views.media import find_medium, uses_of

    with face.view() as conn:
        row = find_medium(conn, name, face.today)
        uses, checks = uses_of(conn, row), checks_of(conn, "medium", row.id)
        form = open_book(conn).settings.date_form
    if as_json:
        used = [{key: value or None for key, value in use._asdict().items()} for use in uses]
        emit_object(medium_row(row) | {"used": used, "checks": check_objects(checks)})
        return
    _card(row, form)
    _show_uses(uses, form)
    show_checks(checks, form)


@medium_group.command("use")
@click.argument("name")
@click.argument("times", default="1")
@click.option("--on", default="", metavar="DATE", help="Day of the use (else today).")
@click.option("--unit", default="", metavar="TAG", shell_complete=complete_tag, help="The unit it was used on.")
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def use_command(face: Face, /, name: str, times: str, unit: str, as_json: bool, **told: Any) -> None:
    """Note that a disk was used, once or TIMES times.

    Not needed where a reading names it.
    """
    from collection.acts.media import use_medium

    row = use_medium(face.engine(), name, times, tag=unit, today=face.today, now=face.now, **told)
    _show(row, as_json, f"{row.name}: used {_times(row.uses)}{_left(row)}.")


@medium_group.command("edit")
@click.argument("name")
@click.option("--role", metavar="ROLE", help=", ".join(ROLES) + ".")
@click.option("--from", "from_date", metavar="DATE", help="In use since.")
@_told
@click.option("--reason", default="", metavar="TEXT", help="Why it is changed.")
@click.pass_obj
def edit_command(face: Face, /, name: str, reason: str, **told: Any) -> None:
    """Change what is written of a disk.

    An empty text takes a value away. Its name stays: readings know it by that.
    """
    from collection.acts.media import edit_medium

    changed = edit_medium(face.engine(), name, given(told), reason=reason, today=face.today, now=face.now)
    say_changes(changed.name, changed.changes)


@medium_group.command("check")
@check_options
@click.pass_obj
def check_command(face: Face, /, name: str, result: str, as_json: bool, **told: Any) -> None:
    """Note a check of a disk: pass, marginal or fail.

    A reading with a disk that failed is marked as doubtful.
    """
    from collection.acts.media import check_medium

    row = check_medium(face.engine(), name, result, today=face.today, now=face.now, **told)
    _show(row, as_json, f"{row.name}: {result}{next_check(row, form_of(face))}.")


@medium_group.command("retire")
@retire_options
@click.pass_obj
def retire_command(face: Face, /, name: str, as_json: bool, **told: Any) -> None:
    """Retire a disk.

    It is refused for readings after its last day. A reference goes when three units were read with it and with another
    reference on one day, so that what was read before can be held against what is read after.
    """
    from collection.acts.media import retire_medium

    row = retire_medium(face.engine(), name, today=face.today, now=face.now, **told)
    _show(row, as_json, f"{row.name} is retired since {row.retired_on}: {row.retired_reason}.")


def given(told: dict[str, Any]) -> dict[str, str]:
    """Return the options that were given."""
    return {name: text for name, text in told.items() if text is not None}


def form_of(face: Face) -> str:
    """Return the date form of the book."""
    from collection.store.book import open_book

    with face.view() as conn:
        return open_book(conn).settings.date_form


def say_changes(name: str, changes: Any) -> None:
    """Print what an edit changed, one line each."""
    for column, before, after in changes:
        say(f"{name}: {column.replace('_', ' ')} {_plain(before)} -> {_plain(after)}")
    if not changes:
        say(f"Nothing to do: {name} says so already.")


def next_check(row: Any, form: str) -> str:
    """Return when the next check of an instrument or a disk is due, as the end of a sentence."""
    from collection.quantity import show_day

    if row.check_due is None:
        return ""
    if row.last and row.last.result == "fail":
        return "; readings with it are doubtful until a check passes"
    return f"; next check {show_day(row.check_due.isoformat(), form)}"


def day_shown(form: str) -> Callable[[Any], str]:
    """Return what writes a day, a day text or nothing in the book's date form."""
    from collection.quantity import show_day

    return lambda day: show_day(str(day), form) if day else ""


def last_of(check: Check | None) -> dict[str, Any]:
    """Return the last check as columns."""
    return {"checked_on": check.checked_on if check else None, "result": check.result if check else None}


def check_objects(checks: list[CheckRow]) -> list[dict[str, Any]]:
    """Return checks as rows for a program."""
    return [{key: text or None for key, text in check._asdict().items()} for check in checks]


def show_checks(checks: list[CheckRow], form: str) -> None:
    """Print the checks of an instrument or a disk, the newest first."""
    if checks:
        say("", "Checks", bold=True)
        columns = (Column("checked_on", "day", day_shown(form)), Column("result"), Column("by"), Column("note"))
        emit(check_objects(checks), columns)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    return str(value) if value not in (None, "") else "nothing"


def _show(row: MediumRow, as_json: bool, sentence: str) -> None:
    if as_json:
        emit_object(medium_row(row))
    else:
        say(sentence)


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def _left(row: MediumRow) -> str:
    if row.left is None:
        return ""
    return f", {row.left} left of {row.most_uses}" if row.left else f" of {row.most_uses}: it is worn"


def _in_table(row: MediumRow, form: str) -> dict[str, Any]:
    """Return what the table of a person has in the place of several keys."""
    return {
        "used": f"{row.uses} of {row.most_uses}{'' if row.left else ', worn'}" if row.most_uses else str(row.uses),
        "last": day_shown(form)(row.last_used),
        "check": check_in_words(row, form),
    }


def check_in_words(row: Any, form: str) -> str:
    """Return how it stands with the check of an instrument or a disk: "due 1 Jan 2026", "failed ...", "retired ..."."""
    day = day_shown(form)
    if row.retired_on:
        return f"retired {day(row.retired_on)}"
    if row.last and row.last.result == "fail":
        return f"failed {day(row.last.checked_on)}"
    said = f"{row.last.result} {day(row.last.checked_on)}" if row.last else ""
    return ", ".join(filter(None, (said, f"due {day(row.check_due)}" if row.check_due else "")))


_KEYS = (
    "medium", "role", "size", "unit", "condition", "from_date", "uses", "most_uses", "left", "last_used", "checked_on",
    "result", "check_every_months", "check_due", "retired_on", "retired_reason", "note",
)  # fmt: skip


def _columns(mode: Mode) -> list[Column]:
    if mode != "table":
        return [Column(key) for key in _KEYS]
    texts = [Column("medium", "disk"), Column("role"), Column("size"), Column("condition")]
    return [*texts, Column("used", right=True), Column("last", "last used"), Column("check")]


def _card(row: MediumRow, form: str) -> None:
    day = day_shown(form)
    say(f"{row.name}: {row.role}", bold=True)
    every = f"every {row.check_every_months} months" if row.check_every_months else ""
    say_pairs(
        (
            ("size", row.size),
            ("unit", row.unit),
            ("condition", row.condition),
            ("in use since", day(row.from_date)),
            ("used", f"{_times(row.uses)}{_left(row)}" if row.uses else "never"),
            ("last used", day(row.last_used)),
            ("check", ", ".join(filter(None, (every, f"due {day(row.check_due)}" if row.check_due else "")))),
            ("retired", f"{day(row.retired_on)}: {row.retired_reason}" if row.retired_on else ""),
            ("note", row.note),
        )
    )


def _show_uses(uses: list[UseRow], form: str) -> None:
    most = 10
    if uses:
        say("", "Uses", bold=True)
        columns = [Column("used_on", "day", day_shown(form)), Column("times"), Column("tag", "unit")]
        columns += [Column("service"), Column("note")]
        emit([use._asdict() for use in uses[:most]], columns)
    if len(uses) > most:
        say(f"{len(uses) - most} earlier; --json has them.")
