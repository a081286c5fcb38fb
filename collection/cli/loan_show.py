"""loan show: one loan whole, on screen or for a program."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.loan_back import compared_columns, compared_rows
from collection.cli.loan_rows import day_form, shown_day, sum_words
from collection.cli.past import past_options
from collection.cli.show import Column, emit, emit_object, say, say_pairs
from collection.cli.tags import complete_tag
from collection.views.custody_rows import condition_row, loan_row

if TYPE_CHECKING:
    from collection.views.condition_checks import ConditionCheck
    from collection.views.damage import Damage
    from collection.views.loan_show import LoanShown

_OF_LOAN = (
    "loan", "direction", "person", "out_on", "due_on", "purpose", "cover", "agreement", "issued_by", "deposit",
    "currency", "deposit_back", "deposit_back_on",
)  # fmt: skip
_OF_UNIT = (
    "tag", "along", "condition_out", "back_on", "condition_back", "along_missing", "taken_by", "days_over",
)  # fmt: skip
_OF_CHECK = ("tag", "checked_on", "occasion", "grade", "condition", "by", "readings", "photos")


@click.command("show")
@click.argument("loan", metavar="LOAN|TAG", shell_complete=complete_tag)
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, loan: str, as_json: bool) -> None:
    """Show one loan with all that belongs to it.

    Its terms, its units as they went out and came back, what was read and looked at then, what was damaged or lost, why
    it was made although something stood against it, and what electrical safety has against a unit that is still out.
    The keys of --json stand in docs/json-keys.md.
    """
    from collection.views.loan_show import loan_shown

    with face.view() as conn:
        shown = loan_shown(conn, loan, face.today)
    if as_json:
        emit_object(_object(shown))
        return
    day = shown_day(day_form(face))
    way = "lent to" if shown.terms.direction == "out" else "borrowed from"
    say(f"{shown.terms.loan}  {way} {shown.terms.person}", bold=True)
    say_pairs(_terms(shown, day))
    say("", "Units", bold=True)
    emit(list(_units(shown, day)), _UNITS, under="below")
    if shown.compared:
        say("", "Read at coming back, beside going out", bold=True)
        emit(compared_rows(shown.compared), compared_columns())
    if shown.checks:
        say("", "Looked at", bold=True)
        emit(list(_looked_at(shown, day)), _CHECKS, under="below")
    if shown.damages:
        say("", "Damage and loss", bold=True)
        emit([_damage(each) | {"found_on": day(each.found_on)} for each in shown.damages], _DAMAGES)


def _terms(shown: LoanShown, day: Callable[[str | None], str]) -> Iterator[tuple[str, str]]:
    row = shown.terms
    yield "from", day(row.out_on)
    yield "due back", day(row.due_on) + (f", {row.days_over} days over" if row.days_over > 0 else "")
    yield "purpose", row.purpose
    yield "cover", row.cover
    yield "agreement", row.agreement
    yield "handed out by" if row.direction == "out" else "taken in by", row.issued_by
    back = f"; {sum_words(row.deposit_back)} went back {day(row.deposit_back_on)}" if row.deposit_back else ""
    yield "deposit", sum_words(row.deposit) + back
    for tag, rule in shown.marks:
        yield "all the same", f"{tag} {_of_label(rule)}"
    for tag, says in shown.unsafe:
        yield "not safe", f"{tag}: {says}"


def _of_label(rule: str) -> str:
    """Return what a mark says beside its label: "lent (REASON): ...", as "borrowed" and "given back"."""
    done, same, rest = rule.partition(" all the same (")
    return f"{done} ({rest}" if same else rule


def _units(shown: LoanShown, day: Callable[[str | None], str]) -> Iterator[dict[str, Any]]:
    for row in shown.units:
        below = (
            ("along", row.along),
            ("missing", row.along_missing),
            ("went out" if row.direction == "out" else "came", row.condition_out),
            ("" if row.lost else "came back" if row.direction == "out" else "went back", row.condition_back),
        )
        yield {
            "tag": row.tag,
            "model": shown.models[row.unit_id],
            "back_on": day(row.back_on),
            "taken_by": row.taken_by,
            "below": [f"{label}: {text}" if label else text for label, text in below if text],
        }


def _looked_at(shown: LoanShown, day: Callable[[str | None], str]) -> Iterator[dict[str, Any]]:
    for row in map(_check, shown.checks):
        yield row | {"checked_on": day(row["checked_on"]), "below": row["readings"]}


def _check(each: ConditionCheck) -> dict[str, Any]:
    row = condition_row(each)
    return {key: row[key] for key in _OF_CHECK}


def _damage(each: Damage) -> dict[str, Any]:
    keys = ("damage", "tag", "kind", "found_on", "what", "closed_on")
    return {key: getattr(each, "name" if key == "damage" else key) or None for key in keys}


def _object(shown: LoanShown) -> dict[str, Any]:
    rows = [loan_row(row) for row in shown.units]
    return {
        **{key: rows[0][key] for key in _OF_LOAN},
        "units": [{key: row[key] for key in _OF_UNIT} for row in rows],
        "marks": [{"tag": tag or None, "says": rule} for tag, rule in shown.marks],
        "unsafe": [{"tag": tag, "says": says} for tag, says in shown.unsafe],
        "compared": compared_rows(shown.compared),
        "checks": [_check(each) for each in shown.checks],
        "damages": [_damage(each) for each in shown.damages],
    }


_UNITS = (Column("tag"), Column("model"), Column("back_on", "back"), Column("taken_by", "by"))
_CHECKS = (
    Column("tag"),
    Column("checked_on", "day"),
    Column("occasion"),
    Column("grade"),
    Column("condition"),
    Column("photos"),
    Column("by"),
)
_DAMAGES = (
    Column("damage"),
    Column("tag"),
    Column("kind"),
    Column("found_on", "found"),
    Column("what"),
    Column("closed_on", "closed"),
)
