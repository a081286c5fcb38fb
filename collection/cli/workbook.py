"""import of a person's own workbook or CSV file: what its tables are taken for, and the questions about them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from collection.cli.face import Face
from collection.cli.show import Column, ask, emit, has_person, note, progress, say

if TYPE_CHECKING:
    from collection.exchange.sheets_map import ColumnMap, TableMap
    from collection.exchange.sheets_plan import WorkbookPlan

_COLUMNS = (Column("column"), Column("becomes"), Column("first_cells"))
_OFFERED = 6


def compare_workbook(face: Face, path: Path, given: dict[str, Any], *, quiet: bool) -> WorkbookPlan:
    """Read a file, settle what its tables are, show that unless `quiet`, and compare it with the book."""
    from collection.acts.bring_in.state import Options
    from collection.exchange.sheets_plan import plan_workbook
    from collection.exchange.sheets_read import read_tables

    read = read_tables(path, given["encoding"])
    tables = _mapped(read.tables, given["map"], may_ask=not (quiet or given["yes"]))
    for told in read.told:
        note(told)
    if not quiet:
        for table in tables:
            _show(table)
    options = Options(last_done=given["last_done"], spread_months=given["spread"])
    with face.view() as connection, progress("comparing rows"):
        plan = plan_workbook(connection, tables, read.left_out, book=path.name, today=face.today, options=options)
    for place, tags in plan.converted.proposed.items():
        have = "1 unit has" if len(tags) == 1 else f"{len(tags)} units have"
        note(f"{place}: {have} no tag; proposed: {tags[0]}" + _to(tags))
    return plan


def _to(tags: list[str]) -> str:
    return "" if len(tags) == 1 else f" to {tags[-1]}"


def _mapped(tables: list[TableMap], file: Path | None, *, may_ask: bool) -> list[TableMap]:
    """Return the tables as the file says, or as was answered; the file is written where there was none."""
    from collection.exchange.sheets_map import read_map, write_map

    if file is not None and file.exists():
        tables, unsaid = read_map(file, tables)
        for place in unsaid:
            note(f"{file} says nothing of the table {place}: the proposal stands.")
        return tables
    if may_ask and has_person():
        answered = [_asked(table) for table in tables]
        if answered != tables and file is None:
            note("--map FILE keeps these answers for the next time.")
        tables = answered
    if file is not None:
        write_map(file, tables)
        note(f"What the tables are taken for is written to {file}: it can be changed there.")
    return tables


def _asked(table: TableMap) -> TableMap:
    """Ask what is unsure of a table: what it holds, then what its columns become."""
    from collection.exchange.sheets_map import LEAVE, answered, map_columns

    if not table.sure:
        holds = _ask_holds(table)
        if holds == LEAVE:
            from dataclasses import replace

            return replace(table, holds=LEAVE, sure=True)
        table = map_columns(table.block, holds, sure=True, others=table.others)
    for at, each in enumerate(table.columns):
        if not each.sure and each.samples:
            table = answered(table, at, _ask_column(table, each))
    return table


def _ask_holds(table: TableMap) -> str:
    from collection.errors import Refused, fold
    from collection.exchange.sheets_map import LEAVE

    known = list(dict.fromkeys([table.holds, *table.others, LEAVE]))

    def parse(text: str) -> str:
        if fold(text) not in known:
            raise Refused(f'"{text}" is nothing that a table can hold.', f"Type one of: {', '.join(known)}.")
        return fold(text)

    block = table.block
    headings = ", ".join(column.heading for column in block.columns if column.heading)
    note(f"Sheet {block.sheet}, {block.place}: {headings}")
    return ask(f"What does this table hold? {', '.join(known)}", table.holds, parse)


def _ask_column(table: TableMap, each: ColumnMap) -> str:
    from collection.errors import Refused
    from collection.exchange.sheets_map import LEAVE, NOTE, SUBJECTS, field_of, plain_name

    offered = list(dict.fromkeys([each.becomes, *each.others[:_OFFERED], NOTE, LEAVE]))

    def parse(text: str) -> str:
        if text == "?":
            raise Refused(f"It can become {', '.join(map(plain_name, SUBJECTS[table.holds]))}.")
        if text.isdigit() and 1 <= int(text) <= len(offered):
            return offered[int(text) - 1]
        return field_of(text)

    note(f"Sheet {table.block.sheet}, column {each.column.shown}: {'; '.join(each.samples)}")
    for number, name in enumerate(offered, 1):
        note(f"  {number}  {plain_name(name)}")
    return ask("It becomes (number, name, or ? for names)", plain_name(each.becomes), parse)


def _show(table: TableMap) -> None:
    """Show what a table is taken for."""
    from collection.exchange.sheets_map import plain_name

    block = table.block
    rows = len(block.lines) - len(table.leave_rows)
    sure = "" if table.sure else " (unsure)"
    say(f"Sheet {block.sheet}, {block.place}: {rows:,} rows, taken as {table.holds}{sure}")
    emit(
        [
            {
                "column": each.column.shown,
                "becomes": plain_name(each.becomes) + ("" if each.sure or not each.samples else " (unsure)"),
                "first_cells": " | ".join(each.samples),
            }
            for each in table.columns
        ],
        _COLUMNS,
    )
    say("")
