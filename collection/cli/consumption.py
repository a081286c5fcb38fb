"""consumption: what work really takes, against its sheets, and what each unit takes in a year."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_supply, complete_tag
from collection.errors import Refused

if TYPE_CHECKING:
    from collection.views.unit_consumption import UnitsUse

_KEYS = (
    "supply", "procedure", "measured_in", "sheet", "chance", "mean", "mean_low", "mean_high", "spread", "ratio", "says",
    "weighed", "from_counts", "by_sheet", "services", "taken_in", "a_year",
)  # fmt: skip
_UNIT_KEYS = (
    "tag", "model", "year", "days", "services", "minutes", "timed", "cost", "currency", "priced", "uses", "belts",
    "services_a_year", "minutes_a_service", "minutes_a_year", "cost_a_service", "cost_a_year", "belts_a_year",
    "eats_belts",
)  # fmt: skip
_UNPLANNED = "unplanned"
_WORTH_SAYING = 0.2  # part of the sheet's amount


@click.command("consumption")
@click.argument("supply", required=False, shell_complete=complete_supply)
@click.option("--units", "of_units", is_flag=True, help="Show what each unit takes instead.")
@click.option("--unit", "tag", metavar="TAG", shell_complete=complete_tag, help="Show what one unit takes.")
@click.option("--by-year", is_flag=True, help="Show units year by year.")
@past_options
@output_options
@click.pass_obj
def consumption_command(
    face: Face, /, supply: str | None, of_units: bool, tag: str | None, by_year: bool, mode: Mode
) -> None:
    """Show what work really takes of each supply, against its sheet.

    A use that was weighed, counted or told teaches; one by the sheet teaches nothing until a count tells what went.
    With --units what each unit took in supplies, minutes and belts, per service and year, and which eat belts.

    Keys of --json: supply, procedure (null for uses nobody planned), measured_in, sheet, chance, mean, mean_low,
    mean_high, spread, ratio, says, weighed, from_counts, by_sheet, services, taken_in, a_year; with --units: tag,
    model, year (null for all), days, services, minutes, timed, cost, currency, priced, uses, belts, services_a_year,
    minutes_a_service, minutes_a_year, cost_a_service, cost_a_year, belts_a_year, eats_belts.
    """
    if of_units or tag is not None or by_year:
        if supply is not None:
            raise Refused(
                f'What units take is not told for one supply, and "{supply}" is given.',
                "Leave the supply or --units out.",
            )
        _show_units(face, tag, by_year=by_year, mode=mode)
        return
    from collection.views.consumption import consumption
    from collection.views.list_rows import use_row

    with face.view() as connection:
        rows = [use_row(each) for each in consumption(connection, face.today, supply)]
    if mode != "table":
        emit(rows, [Column(key) for key in _KEYS], mode)
        return
    empty = (
        "No service or use has taken anything counted yet." if supply is None else f"Nothing was used of {supply} yet."
    )
    emit(list(_shown(rows)), _columns(), mode, empty=empty, above="supply", under="rests_on")
    say(*_below(rows))


# --- by procedure ------------------------------------------------------------------------------------------


def _shown(rows: Sequence[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield the rows as a person reads them, those of a supply below its name."""
    named = ""
    for row in rows:
        yield {
            "supply": "" if row["supply"] == named else row["supply"],
            "procedure": row["procedure"] or _UNPLANNED,
            "sheet": _amount(row["sheet"], row["measured_in"]),
            "takes": _takes(row),
            "spread": "" if row["spread"] is None else f"± {_figure(row['spread'])}",
            "rests_on": _rests_on(row),
            "says": _says(row),
        }
        named = row["supply"]


def _columns() -> list[Column]:
    return [
        Column("procedure"),
        Column("sheet", "by the sheet", right=True),
        Column("takes", "really takes"),
        Column("spread", "one use", right=True),
        Column("says", "against the sheet"),
    ]


def _figure(value: float) -> str:
    """Return an amount with as many digits as a drawer needs."""
    from decimal import Decimal

    from collection.quantity import show_number

    return show_number(Decimal(f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"))


def _amount(value: float | None, measured_in: str) -> str:
    if value is None:
        return ""
    plural = "s" if measured_in == "piece" and value != 1 else ""
    return f"{_figure(value)} {measured_in}{plural}"


def _takes(row: dict[str, Any]) -> str:
    if row["mean"] is None:
        return ""
    return f"{_amount(row['mean'], row['measured_in'])} ({_figure(row['mean_low'])} to {_figure(row['mean_high'])})"


def _says(row: dict[str, Any]) -> str:
    """Return what the figures are against the sheet, with how often it is taken at all and how often a year."""
    said = [] if row["says"] is None or row["procedure"] is None else [row["says"]]
    if row["ratio"] is not None and row["says"] in ("more", "less"):
        said = [f"{row['says']}: {row['ratio'] * 100:.0f} % of it"]
    if row["services"]:
        expected = f", {row['chance'] * 100:g} in 100 expected" if row["chance"] < 1 else ""
        said.append(f"taken in {row['taken_in']} of {row['services']}{expected}")
    if row["a_year"] is not None:
        said.append(f"about {row['a_year']:.2g} times a year")
    return "; ".join(said)


def _rests_on(row: dict[str, Any]) -> str:
    parts = []
    if row["weighed"]:
        parts.append(f"{row['weighed']} weighed or told")
    if row["from_counts"]:
        parts.append(f"{round(row['from_counts'])} told by counts")
    alone = row["by_sheet"] - round(row["from_counts"])
    if alone > 0:
        parts.append(f"{alone} by the sheet")
    return f"from {', '.join(parts)}" if parts else ""


def _below(rows: Sequence[dict[str, Any]]) -> Iterator[str]:
    from collection.analysis.consumption import FEWEST_USES

    if not rows:
        return
    yield (
        "really takes: the mean, with what it lies between 19 times in 20; one use: how far a single one is from it. "
        f"Uses by the sheet tell nothing of amounts; fewer than {FEWEST_USES} uses are not held against a sheet."
    )
    for row in rows:
        if row["says"] in ("more", "less") and abs(row["ratio"] - 1) >= _WORTH_SAYING:
            wanted = _amount(row["mean"], row["measured_in"])
            yield f"{row['procedure']} takes {row['says']} of {row['supply']} than its sheet says: {wanted} is nearer."
    yield "What each unit takes, and which eat belts: spindlebook consumption --units"


# --- by unit -----------------------------------------------------------------------------------------------


def _show_units(face: Face, tag: str | None, *, by_year: bool, mode: Mode) -> None:
    from collection.store.book import open_book
    from collection.views.list_rows import unit_use_row
    from collection.views.unit_consumption import units_use

    with face.view() as connection:
        found = units_use(connection, face.today, tag, by_year=by_year)
        form = open_book(connection).settings.date_form
    rows = [unit_use_row(each, found.currency) for each in found.rows]
    if mode != "table":
        emit(rows, [Column(key) for key in _UNIT_KEYS], mode)
        return
    emit(
        rows, _unit_columns(found.currency, by_year=by_year), mode, empty="No unit has a service, a use or a belt yet."
    )
    say(*_below_units(found, rows, form, by_year=by_year))


def _unit_columns(currency: str, *, by_year: bool) -> list[Column]:
    def number(value: float | None) -> str:
        return "" if value is None else f"{value:.1f}"

    def whole(value: float | None) -> str:
        return "" if value is None else f"{value:.0f}"

    return [
        Column("tag"),
        Column("year", in_table=by_year, right=True),
        Column("services", right=True),
        Column("services_a_year", "a year", number, in_table=not by_year, right=True),
        Column("minutes_a_service", "min each", whole, right=True),
        Column("minutes_a_year", "min a year", whole, right=True, in_table=not by_year),
        Column("cost", f"supplies, {currency}", right=True),
        Column("cost_a_service", "each", right=True),
        Column("cost_a_year", "a year", right=True, in_table=not by_year),
        Column("belts", show=lambda many: str(many) if many else "", right=True),
        Column("eats_belts", "", lambda eats: "eats belts" if eats else ""),
    ]


def _below_units(found: UnitsUse, rows: Sequence[dict[str, Any]], form: str, *, by_year: bool) -> Iterator[str]:
    from collection.analysis.consumption import FEWEST_DAYS
    from collection.quantity import show_day

    if not rows or found.since is None:
        return
    unpriced = sum(row["uses"] - row["priced"] for row in rows)
    yield f"Since {show_day(found.since.isoformat(), form)}; supplies and parts at what their lots cost."
    if unpriced:
        uses = "1 use is" if unpriced == 1 else f"{unpriced} uses are"
        yield f"{uses} of lots without a price, left out: spindlebook supply edit-lot SUPPLY LOT --price PRICE"
    if not by_year and any(row["days"] < FEWEST_DAYS for row in rows):
        yield f"Nothing is told by the year of a unit that was here for less than {FEWEST_DAYS} days."
    eaters = [row["tag"] for row in rows if row["eats_belts"]]
    if eaters:
        verb = "takes" if len(eaters) == 1 else "take"
        yield (
            f"{', '.join(eaters)} {verb} more belts than the other units let expect (chance below 1 in 20 if all are"
            " alike): look at pulleys, bearings and belt path."
        )
