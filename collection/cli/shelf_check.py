"""shelf-check: hold a shelf against the book, tag by tag."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.show import Column, Mode, answer, emit, has_person, note, output_options, say

if TYPE_CHECKING:
    from collection.acts.sightings import ShelfChecked
    from collection.analysis.shelf_check import Finding


@click.command("shelf-check")
@click.argument("location")
@click.option("--tags", "named", metavar="TAGS", help="What is there, as D1,D2,D3; else lines of standard input.")
@click.option("--file", type=click.Path(path_type=Path), metavar="FILE", help="A text with one tag a line.")
@click.option("--only-here", is_flag=True, help="Without the places that are inside it.")
@click.option("--empty", is_flag=True, help="Nothing is there.")
@click.option("--move", is_flag=True, help="Enter this location for what the book has elsewhere.")
@click.option("--call-missing", is_flag=True, help="Enter as missing what is not here.")
@click.option("--all", "everything", is_flag=True, help="List what is here and right, too.")
@click.option("--by", default="", metavar="PERSON", help="Who looked (else --who of the command).")
@click.option("--on", default="", metavar="DATE", help="Day of the check (else today).")
@click.option("--note", "remark", default="", metavar="TEXT", help="Anything else.")
@click.option("--dry-run", is_flag=True, help="Show the differences and write nothing.")
@click.option("--exit-code", is_flag=True, help="Leave with code 3 where book and shelf differ.")
@output_options
@click.pass_context
def shelf_check_command(
    ctx: click.Context,
    /,
    named: str | None,
    file: Path | None,
    mode: Mode,
    on: str,
    *,
    everything: bool,
    dry_run: bool,
    exit_code: bool,
    **told: Any,
) -> None:
    """Hold a shelf against the book, tag by tag.

    Type or scan the tag of each unit that is there, one a line; or name them all at once:

    spindlebook shelf-check "shelf A" --tags D1,D2,D3

    Every difference is told with what to type about it. All of it is one act: undo takes it back. What is on loan,
    away, missing or gone in the book is not looked for. More in docs/shelf-check.md.

    Keys of --json: tag (or what was typed), finding, book (what the book says of it), do (what to type, in this order).
    """
    from collection.acts.sightings import GivenShelfCheck, check_shelf

    face: Face = ctx.obj
    found = _found(face, told["location"], named, file, empty=told["empty"])
    told["inside"], told["note"] = not told.pop("only_here"), told.pop("remark")
    given = GivenShelfCheck(found=tuple(found), **told)
    made = check_shelf(face.engine(), given, on=on, dry_run=dry_run, today=face.today, now=face.now)
    shown = [row for row in made.findings if everything or row.differs]
    emit([_object(row) for row in shown], _COLUMNS, mode, under="do")
    if mode == "table":
        _sum_up(made, dry_run=dry_run, moved=given.move)
    if exit_code and any(row.differs for row in made.findings):
        ctx.exit(3)


def _found(face: Face, location: str, named: str | None, file: Path | None, *, empty: bool) -> list[str]:
    from collection.exchange.tag_file import read_tags, tags_from

    if named is not None and file is not None:
        raise click.UsageError("Give --tags or --file, not both.")
    if file is not None:
        return read_tags(file)
    if named is not None:
        return [tag.strip() for tag in named.split(",") if tag.strip()]
    if empty:
        return []
    if has_person():
        return _asked(face, location)
    return tags_from(sys.stdin.buffer, "Standard input")


def _asked(face: Face, location: str) -> list[str]:
    """Ask for tag after tag until an empty line, and say at once what is odd about one."""
    from collection.views.shelf_check import shelf_in_book

    with face.view() as conn:
        shelf = shelf_in_book(conn, location, face.today)
    note(
        f"What is at {shelf.name}? Scan or type one tag a line; an empty line ends, a tag typed again changes nothing."
    )
    found: list[str] = []
    while tag := answer(f"{len(found) + 1}: "):
        found.append(tag)
        said = shelf.findings([tag])[0]
        if said.differs:
            note(f"  {said.finding}{f': {said.book}' if said.book else ''}")
    return found


def _sum_up(made: ShelfChecked, *, dry_run: bool, moved: bool) -> None:
    from collection.errors import typed

    right = sum(not row.differs for row in made.findings)
    differing = len(made.findings) - right
    agree = "is as the book says" if right == 1 else "are as the book says"
    say(f"{made.shelf}: {right} {agree}, {differing} not.")
    misplaced = [typed(row.tag) for row in made.findings if row.misplaced]
    if len(misplaced) > 1 and not moved:
        say(f"All that is here at once: spindlebook unit move {' '.join(misplaced)} --to {typed(made.shelf)}")
    if dry_run:
        say("Nothing was written: it is a dry run.")
    else:
        say("It is in the book. To take it back: spindlebook undo")


def _object(row: Finding) -> dict[str, Any]:
    return {"tag": row.tag, "finding": row.finding, "book": row.book or None, "do": list(row.do)}


_COLUMNS = (Column("tag"), Column("finding"), Column("book", "the book says"), Column("do", in_table=False))
