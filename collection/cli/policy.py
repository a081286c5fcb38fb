"""policy: what is insured for how much, from when to when."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.errors import typed
from collection.quantity import show_day

if TYPE_CHECKING:
    from collection.views.policies import Policy

_SAYS = (
    ("from", "DATE", "First day of it (else today)."),
    ("to", "DATE", "Last day of it."),
    ("insurer", "TEXT", "Who insures."),
    ("insured", "SUM", "The sum insured: 1500.00, or 1500.00 USD."),
    ("note", "TEXT", "What it covers, its excess, anything else."),
)
_NAMED = {"from": "from_date", "to": "to_date", "insured": "sum_insured"}


@click.group("policy")
def policy_group() -> None:
    """Keep what the collection is insured for."""


@policy_group.command("add")
@click.argument("policy")
@field_options(*_SAYS, named=_NAMED, reason=False)
@click.pass_obj
def add_command(face: Face, /, policy: str, **told: Any) -> None:
    """Add a policy by its number.

    The insurance schedule (spindlebook report insurance) sets its sum against what the book says things are worth.
    Each year's policy may stand beside the one before; one that is prolonged can be changed with policy edit.
    """
    from collection.acts.policies import add_policy

    given = {key: text for key, text in told.items() if text is not None}
    made = add_policy(face.engine(), policy, given, today=face.today, now=face.now)
    insured = f"insured for {made.insured.text} {made.insured.currency}" if made.insured else "no sum insured told"
    say(f'Added the policy "{made.name}", from {made.from_date} to {made.to_date or "no day told"}: {insured}.')
    if made.insured is None:
        note(f"To tell the sum: spindlebook policy edit {typed(made.name)} --insured 1500.00")


@policy_group.command("edit")
@click.argument("policy")
@field_options(("name", "TEXT", "Another number."), *_SAYS, named={"name": "renamed", **_NAMED})
@click.pass_obj
def edit_command(face: Face, /, policy: str, renamed: str | None, reason: str, **told: Any) -> None:
    """Change what a policy says.

    An empty text takes a value away. What it said before stays in the history, and a schedule of a past day goes by
    what it said then.
    """
    from collection.acts.policies import edit_policy

    given = given_of({"policy": renamed, **told})
    tell_edited(edit_policy(face.engine(), policy, given, reason=reason, today=face.today, now=face.now))


@policy_group.command("list")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, sort: str, mode: Mode) -> None:
    """List policies, and which are in force.

    Keys of --json: policy, from_date, to_date, insurer, sum_insured, currency, state (in force, ended, not begun),
    note.
    """
    from collection.store.book import open_book
    from collection.views.policies import policy_list

    with face.view() as conn:
        rows = [_row(each, face.today) for each in policy_list(conn)]
        form = open_book(conn).settings.date_form
    shown = _in_table(form) if mode == "table" else _COLUMNS
    emit(in_order(rows, _COLUMNS, sort), shown, mode, empty="No policy yet. Type: spindlebook policy add NUMBER")


def _row(policy: Policy, today: date) -> dict[str, Any]:
    return {
        "policy": policy.name,
        "from_date": policy.from_date,
        "to_date": policy.to_date or None,
        "insurer": policy.insurer or None,
        "sum_insured": policy.insured and policy.insured.text,
        "currency": policy.insured and policy.insured.currency,
        "shown": policy.insured and f"{policy.insured.text} {policy.insured.currency}",
        "state": policy.state(today),
        "note": policy.note or None,
    }


def _in_table(form: str) -> list[Column]:
    def day(value: Any) -> str:
        return show_day(value, form) if value else ""

    return [
        Column("policy"),
        Column("state"),
        Column("from_date", "from", show=day),
        Column("to_date", "to", show=day),
        Column("shown", "sum insured", right=True),
        Column("insurer"),
        Column("note"),
    ]


_COLUMNS = tuple(
    Column(key) for key in ("policy", "from_date", "to_date", "insurer", "sum_insured", "currency", "state", "note")
)
