"""plan: what to do on which bench day, and which units can be lent by a day."""

from __future__ import annotations

from datetime import date

import click

from collection.cli.face import Face
from collection.cli.kept import kept_rechecks
from collection.cli.option_reader import option_reader
from collection.cli.past import past_options
from collection.cli.show import Mode, emit, note, output_options, say
from collection.cli.whole import Whole


@option_reader
def _day_option(_ctx: click.Context, param: click.Parameter, value: str) -> date:
    """Read a whole day."""
    from collection.acts.days import day_ahead

    return day_ahead(value, param.opts[0])


@option_reader
def _weekdays_option(_ctx: click.Context, _param: click.Parameter, value: str) -> str:
    """Read days of the week as they are kept."""
    from collection.analysis.bench_days import parse_weekdays

    return parse_weekdays(value)


@click.command("plan")
@click.option("--from", "first", metavar="DATE", callback=_day_option, help="The first day; today unless told.")
@click.option("--to", "last", metavar="DATE", callback=_day_option, help="The last day; eight weeks on unless told.")
@click.option("--days", metavar="DAYS", callback=_weekdays_option, help="Bench days this once, as sat,sun.")
@click.option("--minutes", type=Whole(1, 1440), metavar="N", help="Minutes of a bench day this once, as 240.")
@click.option("--lend", type=Whole(1, 10_000), metavar="N", help="Which N units can be ready to be lent.")
@click.option("--on", "by", metavar="DATE", callback=_day_option, help="With --lend: the day of lending.")
@click.option("--kind", metavar="KIND", help="With --lend: units of this kind; drive unless told.")
@past_options
@output_options
@click.pass_obj
def plan_command(
    face: Face,
    first: date | None,
    last: date | None,
    days: str | None,
    minutes: int | None,
    lend: int | None,
    by: date | None,
    kind: str | None,
    mode: Mode,
) -> None:
    """Show what to do on which bench day, and what that takes from the drawer.

    All that is due on a unit is done in one opening, and what comes due within a month after goes along. An opening
    stands on a bench day before its latest date: the day on which its months or hours are over or its recheck is due.
    Where that cannot be, it says by how many days it comes after, and why. What an event calls for, as a fault or an
    arrival, is done on the first day with room. Units on loan wait until the day after they are due back.

    spindlebook plan --lend 4 --on 2026-05-01 tells which units can be ready by then: those that are, then those that
    need the least work. Their work goes before all other, which it may push past its latest date.

    Keys of --json: day (null where none can be found), tag, model, minutes, latest, days_late (after the latest date;
    negative before it), procedures, why, takes, short (what the drawer lacks of that), note; with --lend: tag, model,
    standing, day (null where nothing is to be done), ready, minutes, procedures, why, takes, short, next_due, note.
    """
    if lend is None:
        if by is not None or kind is not None:
            raise click.UsageError("--on and --kind go with --lend N.")
        _calendar(face, first, last, days, minutes, mode)
        return
    if by is None or first is not None or last is not None:
        raise click.UsageError("--lend N goes with --on DATE, and with neither --from nor --to.")
    _lend(face, lend, by, kind or "drive", days, minutes, mode)


def _calendar(
    face: Face, first: date | None, last: date | None, days: str | None, minutes: int | None, mode: Mode
) -> None:
    """Show the bench calendar."""
    from collection.analysis.bench_horizon import bench_of
    from collection.cli.plan_rows import Calendar, columns, settings_words
    from collection.store.book import open_book
    from collection.views.bench_plan import bench_view

    with face.view() as connection:
        settings = open_book(connection).settings
        form, told = settings.date_form, (days or settings.bench_weekdays, minutes or settings.bench_minutes)
        bench = bench_of(face.today, first, last, *told)
        rechecks = kept_rechecks(face, connection, settings.risk)
        shown = Calendar(bench_view(connection, face.today, bench, rechecks, form), form)
    tell = say if mode == "table" else note
    tell(settings_words(bench, *told), *shown.above())
    rows = shown.table() if mode == "table" else shown.rows()
    emit(rows, columns(form), mode, above="group", under="below")
    tell(*shown.below())


def _lend(face: Face, wanted: int, by: date, kind: str, days: str | None, minutes: int | None, mode: Mode) -> None:
    """Show which units can be ready to be lent by a day."""
    from collection.analysis.bench_horizon import bench_before
    from collection.cli.plan_lend import Lending, lend_columns
    from collection.cli.plan_rows import settings_words
    from collection.store.book import open_book
    from collection.views.bench_lend import lend_view

    with face.view() as connection:
        settings = open_book(connection).settings
        form, told = settings.date_form, (days or settings.bench_weekdays, minutes or settings.bench_minutes)
        bench = bench_before(face.today, by, *told)
        rechecks = kept_rechecks(face, connection, settings.risk)
        view = lend_view(connection, face.today, bench, by, wanted, kind, rechecks, form)
        shown = Lending(view, wanted, kind, form)
    tell = say if mode == "table" else note
    tell(settings_words(bench, *told), *shown.above())
    emit(shown.rows(), lend_columns(form), mode)
    tell(*shown.below())
