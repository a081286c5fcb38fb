"""report: pages to print, each in a module of its own that is loaded when it is asked for."""

from __future__ import annotations

from pathlib import Path

import click

from collection.cli.commands import Entry
from collection.cli.loaded import Loaded
from collection.cli.show import say
from collection.errors import path_typed

# Every report with the first line of its help, so that the list of them loads none.
REPORTS = {
    "bench-sheet": Entry("report_bench", "bench_sheet_command", "Print the work on a unit, with boxes to fill in"),
    "round-sheet": Entry(
        "report_round", "round_sheet_command", "Print one line for each unit, to fill in along the shelves"
    ),
    "due": Entry("report_due", "due_report_command", "Print which units are due and why, to tick off"),
    "insurance": Entry(
        "report_insurance",
        "insurance_command",
        "Write the schedule of contents for an insurer, and say whether the sum insured is enough",
    ),
    "unit-history": Entry(
        "report_history",
        "history_report_command",
        "Print all that was read and done on a unit, to go with it when it is sold or lent",
    ),
    "receipt": Entry("report_receipt", "receipt_command", "Print a receipt for whoever brought units"),
    "disposal": Entry("report_disposal", "disposal_command", "Print what both sides sign when units leave for good"),
    "damage": Entry("report_damage", "damage_report_command", "Print a damage or loss for the owner and the insurer"),
    "emergency": Entry(
        "report_emergency",
        "emergency_report_command",
        "Print what to carry out first, where it is, and whom to call",
    ),
    "shopping": Entry("report_shopping", "shopping_command", "Print what to buy, by supplier and by when"),
    "loan-slip": Entry("report_loan", "loan_slip_command", "Print what both sides sign when units are lent"),
    "year": Entry("report_year", "year_command", "Print the year of a collection in figures and pictures"),
    "copy": Entry("report", "copy_command", "Copy a report to change how it looks"),
}


class Reports(Loaded):
    """The reports, each with what it does."""

    table = REPORTS
    word = "report"

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the reports with what they do, out of the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.help) for name, entry in REPORTS.items()])


@click.group("report", cls=Reports)
def report_group() -> None:
    """Write pages to print: for the bench, the shelf, a borrower, an insurer."""


@click.command("copy")
@click.argument("name")
@click.argument("folder", type=click.Path(path_type=Path))
def copy_command(name: str, folder: Path) -> None:
    """Copy a report to change how it looks.

    \b
    spindlebook report copy bench-sheet our-bench-sheet
    spindlebook report bench-sheet D1 --report-dir our-bench-sheet

    page.html says what stands on the page, style.css how it looks; paper.html and paper.css are what all reports share.
    A file that you delete is taken from ours again, and so comes with each new version.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.report_page import copy_report

    files = copy_report(name, folder)
    say(f"Written to {folder}: {', '.join(file.name for file in files)}.")
    say(f"To use it: --report-dir {path_typed(folder)}")
