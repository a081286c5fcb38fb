"""value: say what a unit is worth, and list what all are worth; unit cost: what one has cost so far."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.cli.tags import complete_tag
from collection.quantity import Money, show_day

if TYPE_CHECKING:
    from collection.views.units import Unit
    from collection.views.worth import Cost, Valued, Worth


@click.group("value")
def value_group() -> None:
    """Say what units are worth, by whose word and on what basis."""


@value_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("amount")
@click.argument("currency", required=False, default="")
@click.option("--basis", required=True, metavar="WORD", help="replacement, market, agreed, purchase ... (see below).")
@click.option("--on", default="", metavar="DATE", help="When it was valued, maybe only 2024 or 2024-05 (else today).")
@click.option("--by", default="", metavar="PERSON", help="Who valued it.")
@click.option("--evidence", default="", metavar="TEXT", help="On what it rests: like units sold, an expert's letter.")
@output_options
@click.pass_obj
def add_command(
    face: Face, /, tag: str, amount: str, currency: str, basis: str, on: str, by: str, evidence: str, mode: Mode
) -> None:
    """Add a valuation of a unit.

    \b
    replacement        what another of its kind would cost, with carriage
    market             what the like has been sold for
    agreed             a sum agreed on, as with an insurer or a borrower
    purchase           what was paid for it
    purchase adjusted  what was paid for it, raised by what prices rose since
    restoration        what it would cost to bring it back into its state

    Earlier valuations stay, and the latest counts. A wrong one is taken back with spindlebook undo, or set right by
    another of the same day. Without a CURRENCY it is the book's own.

    Keys of --json: those of value list, one row per valuation of the unit, the one that counts first.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.valuations import add_valuation
    from collection.store.book import open_book
    from collection.views.units import find_unit, unit_on

    listed = add_valuation(
        face.engine(), tag, amount, currency, basis=basis, on=on, by=by, evidence=evidence,
        today=face.today, now=face.now,
    )  # fmt: skip
    with face.view() as conn:
        unit = unit_on(conn, find_unit(conn, tag).id, face.today)
        form = open_book(conn).settings.date_form
    rows = [_row(unit, each, face.today) for each in listed]
    emit(rows, _of_one(form) if mode == "table" else _COLUMNS, mode)
    if mode == "table" and listed[0].basis == "purchase":
        note("What was paid once says little of what it is worth now; another basis can stand beside it.")


@value_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--owner", default="", metavar="NAME", help="Only units of this person.")
@click.option("--location", default="", metavar="NAME", help="Only units there, or in a place inside it.")
@click.option("--without", is_flag=True, help="Only units that nobody has valued.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, /, tag: str, owner: str, location: str, without: bool, sort: str, mode: Mode) -> None:
    """List what units are worth, or all valuations of one.

    A unit that nobody has valued stands with the replacement value of its model, if that is known. Units that are
    gone are left out. The sums below the table are per currency, never added to one another, and per basis.

    Keys of --json: tag, model, owner, location, amount, currency, basis, valued_on, age_days, by, evidence.
    """
    from collection.store.book import open_book
    from collection.views.unit_list import Wanted
    from collection.views.units import find_unit, unit_on
    from collection.views.worth import Worth, valuations_of, worth_list

    with face.view() as conn:
        form = open_book(conn).settings.date_form
        if tag:
            unit = unit_on(conn, find_unit(conn, tag).id, face.today)
            listed = [Worth(unit, each) for each in valuations_of(conn, unit.id)]
        else:
            listed = worth_list(conn, face.today, Wanted(owner=owner, location=location))
    chosen = [each for each in listed if not (without and each.valued and each.valued.valued_on)]
    rows = [_row(each.unit, each.valued, face.today) for each in chosen]
    empty = (
        "Every unit is valued." if without else "No valuation. Type: spindlebook value add TAG AMOUNT --basis market"
    )
    shown = _of_one(form) if tag else _of_many()
    emit(in_order(rows, _COLUMNS, sort), shown if mode == "table" else _COLUMNS, mode, empty=empty)
    if mode == "table" and not tag and rows:
        note("", *_sums(chosen))


@click.command("cost")
@click.argument("tag", shell_complete=complete_tag)
@past_options
@output_options
@click.pass_obj
def cost_command(face: Face, tag: str, mode: Mode) -> None:
    """Show what a unit has cost so far.

    The price paid, supplies and parts at what their lots cost, and the minutes of work, which have no price. Each row
    says what it rests on; sums are per currency and never added to one another.

    Keys of --json: tag, what (price paid, supplies, parts, work, total), amount, currency, minutes, rests_on.
    """
    from collection.views.units import find_unit
    from collection.views.worth import cost_of

    with face.view() as conn:
        cost = cost_of(conn, find_unit(conn, tag).id, face.today)
    if mode == "table":
        model = f"{cost.unit.maker} {cost.unit.model}".strip()
        say(f"{cost.unit.tag}  {model}: cost so far", bold=True)
    emit(list(_cost_rows(cost)), _COST, mode)


def _row(unit: Unit, valued: Valued | None, today: date) -> dict[str, Any]:
    from collection.analysis.worth import age_in_days

    row = {"tag": unit.tag, "model": unit.model, "owner": unit.owner or None, "location": unit.location or None}
    if valued is None:
        return row
    return row | {
        "shown": _shown(valued.amount),
        "amount": valued.amount.text,
        "currency": valued.amount.currency,
        "basis": valued.basis,
        "valued_on": valued.valued_on or None,
        "age_days": age_in_days(valued.valued_on, today) if valued.valued_on else None,
        "by": valued.by or None,
        "evidence": valued.evidence or None,
    }


def _sums(listed: Sequence[Worth]) -> Iterator[str]:
    from collection.analysis.worth import totals

    for total in totals((each.valued.amount, each.valued.basis) for each in listed if each.valued):
        parts = ", ".join(f"{basis} {amount.text} ({units})" for basis, amount, units in total.by_basis)
        yield f"{_shown(total.total)} for {_units(total.units)}: {parts}"
    bare = [each.unit.tag for each in listed if each.valued is None]
    if bare:
        yield f"Not valued, and the model has no replacement value: {_units(len(bare))} ({', '.join(bare)})"


def _cost_rows(cost: Cost) -> Iterator[dict[str, Any]]:
    def row(what: str, sums: Sequence[Money], rests_on: str, minutes: int | None = None) -> Iterator[dict[str, Any]]:
        for each in sums or (None,):
            yield {
                "tag": cost.unit.tag,
                "what": what,
                "amount": each and each.text,
                "currency": each and each.currency,
                "minutes": minutes,
                "rests_on": rests_on,
            }

    paid = f"paid {cost.unit.acquired_on}".rstrip() if cost.paid else "not known"
    yield from row("price paid", [cost.paid] if cost.paid else [], paid)
    yield from row("supplies", cost.supplies, _rests_on(*cost.supplies_priced))
    donated = f"; {cost.donated} from other units, without a price" if cost.donated else ""
    yield from row("parts", cost.parts, _rests_on(*cost.parts_priced) + donated)
    timed = f"{cost.timed} of {cost.services} services with their minutes" if cost.services else "no service"
    yield from row("work", [], timed, cost.minutes if cost.timed else None)
    if cost.total:
        yield from row("total", cost.total, "without the work, which has no price")


def _rests_on(priced: int, uses: int) -> str:
    return f"{priced} of {uses} uses priced, at what their lots cost" if uses else "none used"


def _shown(amount: Money) -> str:
    return f"{amount.text} {amount.currency}"


def _units(count: int) -> str:
    return f"{count} unit" if count == 1 else f"{count} units"


def _basis(value: Any) -> str:
    from collection.analysis.worth import OF_MODEL

    return "(of its model)" if value == OF_MODEL else value or "not valued"


def _age(value: Any) -> str:
    from collection.analysis.worth import show_age

    return "" if value is None else show_age(value)


def _of_many() -> list[Column]:
    """Return the columns that a person reads of many units."""
    worth = Column("shown", "worth", right=True)
    return [Column("tag"), Column("model"), Column("owner"), worth, Column("basis", show=_basis), _AGE]


def _of_one(form: str) -> list[Column]:
    """Return the columns that a person reads of the valuations of one unit."""
    valued = Column("valued_on", "valued", show=lambda value: show_day(value, form) if value else "")
    worth = Column("shown", "worth", right=True)
    return [Column("tag"), worth, Column("basis"), valued, _AGE, Column("by"), Column("evidence")]


_AGE = Column("age_days", "age", show=_age, right=True)
_COLUMNS = [
    *(Column(key) for key in ("tag", "model", "owner", "location", "amount", "currency", "basis", "valued_on")),
    *(Column(key) for key in ("age_days", "by", "evidence")),
]
_COST = (
    Column("tag", in_table=False),
    Column("what"),
    Column("amount", right=True),
    Column("currency", ""),
    Column("minutes"),
    Column("rests_on"),
)
