"""chart: how far each reading of a unit was from what its own drift foretold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag

if TYPE_CHECKING:
    from collection.views.drift_chart import SeriesChart

_KEYS = (
    "tag", "measurement", "point", "taken_on", "value", "corrected", "measured_in", "instrument", "stage", "z",
    "mean", "mean_line", "signal", "sentence", "single_centre", "single_lower", "single_upper", "single_signal",
    "why_no_single", "readings_a_year", "false_alarms_a_year",
)  # fmt: skip

_LEGEND = (
    "In noise-widths: o how far a reading was from what those before it foretold, * the weighted mean of these,"
    " : signal lines (no limits of the measurement)."
)


@click.command("chart")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--of", "measurement", metavar="MEASUREMENT", help="Of this measurement alone.")
@click.option("--point", metavar="POINT", help='At this point alone, as "+5 V".')
@click.option("--plot", metavar="FILE", help="Draw it, as FILE.png or FILE.svg.")
@past_options
@output_options
@click.pass_obj
def chart_command(
    face: Face, /, tag: str, measurement: str | None, point: str | None, plot: str | None, mode: Mode
) -> None:
    """Show which readings of a unit its own drift did not foretell.

    Each reading stands with its error: how far it was from what the readings before it foretold, in noise-widths
    (standard deviations). Drift that is known, offsets of instruments and services are foretold, so what is left is
    news. Two rules signal: an error beyond 3, and the weighted mean of the errors beyond its line. These lines are no
    limits of the measurement: a unit can keep its limits and signal, and the other way round.

    Keys of --json: tag, measurement, point, taken_on, value, corrected, measured_in, instrument, stage, z, mean,
    mean_line, signal (beyond, drifted), sentence, single_centre, single_lower, single_upper, single_signal,
    why_no_single, readings_a_year, false_alarms_a_year.
    """
    from collection.cli.drift_unit import Asked, only_one, picture, unit_series
    from collection.views.drift_chart import chart_of

    file = None if plot is None else picture(plot, mode)
    form, found = unit_series(face, Asked(tag, measurement, point))
    if file is not None:
        from collection.exchange.plot_chart import plot_chart

        plot_chart(chart_of(only_one(found, tag)), file)
        say(f"Drawn: {file}")
        return
    charts = [chart_of(one) for one in found]
    if mode != "table":
        emit([row for chart in charts for row in _objects(chart)], [Column(key) for key in _KEYS], mode)
        return
    for number, chart in enumerate(charts):
        _show(chart, form, first=not number)
    if any(not chart.nothing for chart in charts):
        say("", _LEGEND)
    if not charts:
        say(f"{tag} has no reading in a unit of measure.")


def _objects(chart: SeriesChart) -> Iterator[dict[str, Any]]:
    """Yield a row a reading; what is told of the whole series stands in each."""
    row, single = chart.row, chart.individuals
    of_all = {
        "tag": row.tag,
        "measurement": row.measurement,
        "point": row.point or None,
        "measured_in": row.measured_in,
        "single_centre": single and single.centre,
        "single_lower": single and single.lower,
        "single_upper": single and single.upper,
        "why_no_single": chart.why_none or None,
        "readings_a_year": chart.readings_a_year,
        "false_alarms_a_year": chart.false_alarms,
    }
    for point in chart.points:
        read = point.reading
        yield of_all | {
            "taken_on": read.taken_on,
            "value": read.value,
            "corrected": read.corrected,
            "instrument": read.instrument,
            "stage": read.stage,
            "z": point.z,
            "mean": point.mean,
            "mean_line": point.line,
            "signal": "beyond" if point.beyond else "drifted" if point.drifted else None,
            "sentence": point.sentence or None,
            "single_signal": single and point.single_beyond,
        }


def _show(chart: SeriesChart, form: str, *, first: bool) -> None:
    from collection.analysis.chart_words import drawn, scale_line
    from collection.quantity import show_day

    row = chart.row
    if not first:
        say("")
    say(f"{row.tag}: {row.measurement} {row.point}".rstrip() + f", {row.measured_in}", bold=True)
    if chart.nothing:
        say(chart.nothing)
        return
    rows = [
        {
            "day": show_day(point.reading.taken_on, form),
            "read": point.reading.corrected,
            "instrument": point.reading.instrument,
            "error": "" if point.z is None else _signed(point.z),
            "drawn": drawn(point.z, point.mean) if point.z is not None else "begins",
            "sentence": point.sentence,
        }
        for point in chart.points
    ]
    columns = (
        Column("day"),
        Column("read", "corrected", lambda value: "" if value is None else f"{value:.6g}", right=True),
        Column("instrument"),
        Column("error", right=True),
        Column("drawn", scale_line().rstrip()),
    )
    emit(rows, columns, under="sentence")
    say(*_below(chart))


def _below(chart: SeriesChart) -> Iterator[str]:
    """Yield what is told of the whole chart."""
    row, single = chart.row, chart.individuals
    signals = sum(point.beyond or point.drifted for point in chart.points)
    yield (f"{'One signal' if signals == 1 else f'{signals} signals' if signals else 'No signal'}.{_expected(chart)}")
    if single is None:
        yield chart.why_none
    else:
        out = sum(point.single_beyond for point in chart.points)
        yield (
            f"Classic chart of single readings: mean {single.centre:.6g}, signal lines {single.lower:.6g} and"
            f" {single.upper:.6g} {row.measured_in}, {out or 'none'} beyond."
        )


def _expected(chart: SeriesChart) -> str:
    """Say how many false alarms a year are to be expected, where it is known how often the series is read."""
    if not chart.false_alarms:
        return ""
    return f" At {chart.readings_a_year:.1f} readings a year expect {chart.false_alarms:.2g} false alarms a year."


def _signed(error: float) -> str:
    shown = f"{error:+.1f}"
    return shown if float(shown) else "0.0"
