"""start, where, book: the book itself."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from collection.cli.backups import backup_age, told_of_last
from collection.cli.edit_options import given_of
from collection.cli.face import Face, data_folder, state_folder
from collection.cli.show import ask, emit_object, say
from collection.cli.whole import Whole

if TYPE_CHECKING:
    from collection.store.book import BookSettings


@click.command("start")
@click.option("--time-zone", help="Time zone, as Europe/Lisbon.")
@click.option("--currency", help="Currency of prices and values, ISO 4217, as EUR.")
@click.option("--volts", type=Whole(), help="Mains voltage, as 230 or 120.")
@click.option("--hertz", type=Whole(), help="Mains frequency, 50 or 60; strobe readings depend on it.")
@click.option("--date-form", type=click.Choice(["iso", "dmy", "mdy"]), help="How dates are shown.")
@click.option("--name", help="A name for the book.")
@click.pass_obj
def start_command(face: Face, /, name: str | None, **given: Any) -> None:
    """Create the book of your collection.

    Asks for what dates, money and strobe readings depend on; without a terminal the option or the default is taken
    and printed. The book is one file (see where); --db names another file or a database URL.
    """
    from collection.acts.start import check_settings, refuse_existing, start_book
    from collection.store.book import BookSettings
    from collection.store.engine import show_location

    refuse_existing(face.location)  # before any question is asked
    answers = {option: _answer(option, given[option]) for option in _QUESTIONS}
    settings = BookSettings(
        answers["time_zone"], answers["currency"], answers["volts"], answers["hertz"], answers["date_form"], name
    )
    check_settings(settings)
    start_book(face.location, settings, today=face.today, now=face.now)
    say(f"The book stands in {show_location(face.location)}")
    say("Bring in your own workbook: spindlebook import FILE.xlsx")
    say("Or begin with one unit:     spindlebook unit add TAG --model NAME")


@click.group("book")
def book_group() -> None:
    """Change what the book goes by."""


@book_group.command("set")
@click.option(
    "--accepted-risk",
    metavar="PERCENT",
    help="Chance of being outside limits by which rechecks are set, as 5%; 10% unless set.",
)
@click.option("--bench-days", metavar="DAYS", help="Days of the week with work at the bench, as sat,sun.")
@click.option("--bench-minutes", metavar="MINUTES", help="Minutes of work on such a day, as 240.")
@click.option("--order-cost", metavar="AMOUNT", help="What placing an order is worth to you, as 2.50; 0 unless set.")
@click.option(
    "--holding", metavar="PERCENT", help="What a year of holding stock costs, of its value, as 5%; 10% unless set."
)
@click.option(
    "--backup-days",
    metavar="DAYS",
    help="Above how many days due says that the last backup is old; 14 unless set, 0 for never.",
)
@click.option("--safety-months", metavar="MONTHS", help="How long an electrical safety check is good; your rule.")
@click.pass_obj
def book_set_command(face: Face, /, **told: str | None) -> None:
    """Change a setting of the book.

    spindlebook book set --bench-days sat,sun --bench-minutes 240

    The smaller the accepted risk, the sooner a unit that drifts is due for a recheck. Bench days and minutes are what
    plan fills; order cost and holding weigh how much reorder proposes to buy at once. due says when the last backup
    is older than its days. An empty text, "", goes back to the usual. What is set is shown by spindlebook where, and
    taken back by spindlebook undo.
    """
    from collection.acts.settings import set_book

    given = {name.replace("_", " "): text for name, text in given_of(told).items()}
    for name, before, after in set_book(face.engine(), given, today=face.today, now=face.now):
        words = f"{name[0].upper()}{name[1:]}"
        say(f"Nothing to do: {name} {after} already." if before == after else f"{words}: {before} -> {after}.")


@click.command("where")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def where_command(face: Face, as_json: bool) -> None:
    """Show which book is in use, and where it is.

    Keys of --json: book, chosen_by, exists, name, time_zone, currency, mains_volts, mains_hertz, date_form,
    accepted_risk (0.1 is 10 %), bench_weekdays, bench_minutes, order_cost_minor (in cents or the like), holding_rate,
    backup_days, safety_months, schema, last_backup, last_backup_file, acts_since_backup, says (why it cannot be used),
    data_folder, state_folder.
    """
    from collection.cli.failures import words
    from collection.errors import NoBook
    from collection.store.book import open_book
    from collection.store.engine import HEAD, show_location

    facts: dict[str, Any] = {"book": show_location(face.location), "chosen_by": _chosen_by(face), "exists": True}
    shown: dict[str, str] = {}
    try:
        with face.view() as connection:
            settings = open_book(connection).settings
            facts |= settings.__dict__ | {"accepted_risk": settings.risk, "schema": HEAD}
            age = backup_age(face, connection)
            facts |= told_of_last(age)
            shown = _shown(settings) | {"last_backup": age.shown(settings.time_zone)}
    except Exception as error:
        said = words(error)
        if said is None:
            raise
        facts |= {"exists": False if isinstance(error, NoBook) else None, "says": _one_line(*said[:2])}
    facts |= {"data_folder": str(data_folder()), "state_folder": str(state_folder())}
    if as_json:
        emit_object(facts)
        return
    told = {
        _LABELS.get(name, name.replace("_", " ")): shown.get(name, value)
        for name, value in facts.items()
        if name != "acts_since_backup"  # stands beside the last backup
    }
    width = max(map(len, told))
    for label, value in told.items():
        if value is not None:
            say(f"{label:<{width}}  {('yes' if value else 'no') if isinstance(value, bool) else value}")


def _one_line(what: str, hint: str) -> str:
    """Return a refusal's two lines as one."""
    apart = " " if what.endswith((".", "?", ":")) else ". "
    return f"{what}{apart}{hint}" if hint else what


# Settings that are set later, and those whose name on the screen is that of their option.
_SHOWN = (
    "accepted_risk", "bench_weekdays", "bench_minutes", "order_cost_minor", "holding_rate", "backup_days",
    "safety_months",
)  # fmt: skip
_LABELS = {"bench_weekdays": "bench days", "order_cost_minor": "order cost", "holding_rate": "holding"}


def _shown(settings: BookSettings) -> dict[str, str]:
    """Return in words what was set or is usual, by column."""
    from collection.views.book_settings import show_setting

    return {name: show_setting(_LABELS.get(name, name.replace("_", " ")), settings) for name in _SHOWN}


def _chosen_by(face: Face) -> str:
    if face.db is None:
        return "default"
    return "SPINDLEBOOK_DB" if os.environ.get("SPINDLEBOOK_DB") == face.db else "--db"


def _answer(option: str, given: Any) -> Any:
    question, default, parse = _QUESTIONS[option]
    if given is not None:
        return parse(str(given))
    return ask(question, default() if callable(default) else default, parse)


def _local_zone() -> str:
    """The system's time zone by name where the system tells it."""
    named = os.environ.get("TZ", "").lstrip(":")
    link = os.path.realpath("/etc/localtime")
    found = named or (link.partition("zoneinfo/")[2] if "zoneinfo/" in link else "")
    from zoneinfo import available_timezones

    return found if found in available_timezones() else "UTC"


def _checked(field: str, convert: Callable[[str], Any]) -> Callable[[str], Any]:
    def parse(text: str) -> Any:
        from dataclasses import replace

        from collection.acts.start import check_settings
        from collection.errors import Refused
        from collection.store.book import BookSettings

        try:
            value = convert(text.strip())
        except ValueError:
            raise Refused(f"'{text}' is not a whole number.", "Type it as 50") from None
        check_settings(replace(BookSettings(), **{field: value}))
        return value

    return parse


_QUESTIONS: dict[str, tuple[str, str | Callable[[], str], Callable[[str], Any]]] = {
    "time_zone": ("Time zone", _local_zone, _checked("time_zone", str)),
    "currency": ("Currency", "EUR", _checked("currency", str.upper)),
    "volts": ("Mains voltage, V", "230", _checked("mains_volts", int)),
    "hertz": ("Mains frequency, Hz", "50", _checked("mains_hertz", int)),
    "date_form": ("Date form (iso 2026-03-01, dmy 01.03.2026, mdy 03/01/2026)", "iso", _checked("date_form", str)),
}
