"""instrument compare: how far two instruments agree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.errors import Refused

if TYPE_CHECKING:
    from collection.views.drift_pairs import Comparison, Pair

_KEYS = (
    "tag", "measurement", "point", "a", "a_on", "a_value", "b", "b_on", "b_value", "measured_in", "difference",
    "difference_in", "bias", "bias_low", "bias_high", "agree_low", "agree_high", "pairs", "sentence",
)  # fmt: skip


@click.command("compare")
@click.argument("a", metavar="INSTRUMENT")
@click.argument("b", metavar="INSTRUMENT")
@click.option("--of", "measurement", metavar="MEASUREMENT", help="Where both read several.")
@click.option("--plot", metavar="FILE", help="Draw it, as FILE.png or FILE.svg.")
@past_options
@output_options
@click.pass_obj
def compare_command(face: Face, /, a: str, b: str, measurement: str | None, plot: str | None, mode: Mode) -> None:
    """Show how far two instruments agree.

    A pair is one thing read with both within 7 days, with nothing set anew in between; what drifted in these days is
    taken out. The mean of the differences says how far the first reads from the second, the limits of agreement where
    95 % of single differences lie. Pairs with a likely stray reading are left out.

    Keys of --json: tag, measurement, point, a, a_on, a_value, b, b_on, b_value, measured_in, difference, difference_in,
    bias, bias_low, bias_high, agree_low, agree_high, pairs, sentence.
    """
    from collection.cli.drift_unit import picture
    from collection.store.book import open_book
    from collection.views.drift_pairs import compare

    file = None if plot is None else picture(plot, mode)
    with face.view() as connection:
        found = compare(connection, a, b, face.today, measurement)
        form = open_book(connection).settings.date_form
    if mode != "table":
        emit(_objects(found), [Column(key) for key in _KEYS], mode)
        note(*_below(found))
        return
    if file is not None:
        if found.found is None:
            raise Refused(
                f"There is nothing to draw: {found.a} and {found.b} have no pair of sound readings.",
                "Read one unit with both on the same day, before it is adjusted.",
            )
        from collection.exchange.plot_agreement import plot_agreement

        plot_agreement(
            found.found,
            file,
            shown=found.shown,
            title=f"{found.measurement}: {found.a} less {found.b}",
            mean_in="% from nominal" if found.in_percent else found.measured_in,
            difference_in=_unit(found),
            below=f"{found.sentence}.",
        )
        say(f"Drawn: {file}")
    elif found.pairs:
        emit(list(map(_cells, found.pairs)), _columns(found, form), mode)
    say(*_below(found))


def _objects(found: Comparison) -> list[dict[str, Any]]:
    """Return a row a pair; what all of them show stands in each."""
    figures = found.found
    if figures is None:
        return []
    low, high = figures.bias_range or (None, None)
    scaled = {
        "bias": figures.bias,
        "bias_low": low,
        "bias_high": high,
        "agree_low": figures.lower,
        "agree_high": figures.upper,
    }
    return [
        pair._asdict()
        | {
            "a": found.a,
            "b": found.b,
            "measurement": found.measurement,
            "point": pair.point or None,
            "measured_in": found.measured_in,
            "difference_in": _unit(found),
            **{key: None if value is None else found.shown(value) for key, value in scaled.items()},
            "pairs": len(found.pairs),
            "sentence": found.sentence,
        }
        for pair in found.pairs
    ]


def _unit(found: Comparison) -> str:
    return "%" if found.in_percent else found.measured_in


def _cells(pair: Pair) -> dict[str, Any]:
    """Return a pair with its second day only where that is another one."""
    return pair._asdict() | {"b_on": "" if pair.b_on == pair.a_on else pair.b_on}


def _columns(found: Comparison, form: str) -> tuple[Column, ...]:
    from collection.analysis.drift.shown import as_known
    from collection.quantity import show_day

    figures = found.found
    ends = (None, None) if figures is None else (figures.lower, figures.upper)
    if figures is not None and figures.lower is None and figures.bias_range is not None:
        ends = figures.bias_range

    def apart(value: float) -> str:
        shown = as_known(value, *ends)
        return f"+{shown}" if value > 0 else shown

    def number(value: float) -> str:
        return f"{value:.6g}"

    def day(text: str) -> str:
        return show_day(text, form) if text else ""

    return (
        Column("tag"),
        Column("point"),
        Column("a_on", "day", day),
        Column("a_value", found.a, number, right=True),
        Column("b_on", "day", day),
        Column("b_value", found.b, number, right=True),
        Column("difference", f"apart, {_unit(found)}", apart, right=True),
    )


def _below(found: Comparison) -> list[str]:
    said = [f"{found.measurement}: {found.sentence}."]
    if found.stray:
        pairs = "1 pair is" if found.stray == 1 else f"{found.stray} pairs are"
        said.append(f"{pairs} left out for a likely stray reading.")
    return said
