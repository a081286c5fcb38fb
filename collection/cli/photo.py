"""photo: attach pictures and papers to a unit, list them, save them as files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, note, output_options, say
from collection.cli.tags import complete_tag
from collection.cli.whole import Whole
from collection.errors import typed

if TYPE_CHECKING:
    from collection.acts.attachments import GivenPhoto
    from collection.views.attachments import Attachment

_FILE = click.Path(path_type=Path)


@click.group("photo")
def photo_group() -> None:
    """Keep photos and papers of units."""


@photo_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("file", type=_FILE)
@click.option("--title", default="", metavar="TEXT", help="What is to be seen; the file's name when left out.")
@click.option("--on", "taken_on", default="", metavar="DATE", help="When it was taken, maybe only 2019 or 2019-05.")
@click.option("--note", "about", default="", metavar="TEXT", help="Anything else.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def add_command(face: Face, /, tag: str, file: Path, title: str, taken_on: str, about: str, as_json: bool) -> None:
    """Attach a picture or a PDF to a unit.

    The file is kept in the book itself, so that a backup has it too: PNG, JPEG, GIF, TIFF, WebP or PDF of at most
    20 MB, told by what is in it. One file attached to many units takes its room once.

    Keys of --json: tag, number, title, media_type, size (bytes), taken_on, service, note.
    """
    from collection.acts.attachments import GivenPhoto, add_photo
    from collection.exchange.photo_files import read_photo
    from collection.exchange.pictures import why_not_shown

    given = GivenPhoto(file.name, read_photo(file), title, about)
    made = add_photo(face.engine(), tag, given, taken_on=taken_on, today=face.today, now=face.now)
    if as_json:
        emit_object(photo_object(made))
        return
    say(f'{made.tag}: picture {made.number} "{made.title}", {made.media_type}, {show_size(made.size)}.')
    say(f"To see it: spindlebook photo save {typed(made.tag)} {made.number} FILE")
    hidden = why_not_shown(given.content, made.media_type)
    if hidden:
        note(f"It is kept as it is, but no report shows it: {hidden}")


@photo_group.command("list")
@click.argument("tag", shell_complete=complete_tag)
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, sort: str, mode: Mode) -> None:
    """List the pictures and papers of a unit.

    Keys of --json: tag, number, title, media_type, size (bytes), taken_on, service, note.
    """
    from collection.views.attachments import attachments_of
    from collection.views.units import find_unit

    with face.view() as conn:
        unit = find_unit(conn, tag)
        listed = attachments_of(conn, unit.id)
    rows = [photo_object(each) for each in listed]
    empty = f"No picture. Type: spindlebook photo add {typed(unit.tag)} FILE"
    emit(in_order(rows, _COLUMNS, sort), _COLUMNS, mode, empty=empty)


@photo_group.command("save")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("number", type=Whole(min=1))
@click.argument("file", type=_FILE)
@click.pass_obj
def save_command(face: Face, tag: str, number: int, file: Path) -> None:
    """Save a picture of a unit as a new file, byte for byte as it came."""
    from collection.exchange.photo_files import write_photo
    from collection.views.attachments import attachment_numbered, content_of
    from collection.views.units import find_unit

    with face.view() as conn:
        unit = find_unit(conn, tag)
        found = attachment_numbered(conn, unit.id, unit.tag, number)
        content = content_of(conn, found)
    write_photo(file, content)
    note(f'Saved "{found.title}" of {unit.tag} as {file} ({found.media_type}, {show_size(found.size)}).')


@photo_group.command("edit")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("number", type=Whole(min=1))
@click.option("--title", default=None, metavar="TEXT", help="What is to be seen.")
@click.option("--on", "taken_on", default=None, metavar="DATE", help='When it was taken; "" takes it away.')
@click.option("--note", default=None, metavar="TEXT", help='Anything else; "" takes it away.')
@click.option("--reason", default="", metavar="TEXT", help="Why it is changed; the history keeps it.")
@click.pass_obj
def edit_command(face: Face, /, tag: str, number: int, **told: Any) -> None:
    """Change what is said of a picture."""
    from collection.acts.attachments import edit_photo

    if all(told[name] is None for name in ("title", "taken_on", "note")):
        raise click.UsageError("Give --title, --on or --note.")
    made = edit_photo(face.engine(), tag, number, **told, today=face.today, now=face.now)
    say(f'{made.tag}: picture {made.number} "{made.title}"' + (f", taken {made.taken_on}." if made.taken_on else "."))


def named_photo(text: str) -> GivenPhoto:
    """Return the picture that FILE or TITLE=FILE names; a file whose own name has "=" in it is found first."""
    from collection.acts.attachments import GivenPhoto
    from collection.exchange.photo_files import read_photo

    title, equals, name = text.partition("=")
    if not equals or Path(text).exists():
        title, name = "", text
    file = Path(name.strip())
    return GivenPhoto(file.name, read_photo(file), title)


def photo_object(made: Attachment) -> dict[str, Any]:
    """Return an attachment as a program reads it."""
    values = {column.key: getattr(made, column.key) for column in _COLUMNS}
    return {key: None if value == "" else value for key, value in values.items()}


def show_size(size: int) -> str:
    """Return a number of bytes as a person reads it: "340 kB", "2.1 MB"."""
    if size < 1_000:
        return f"{size} bytes"
    return f"{size / 1_000:.0f} kB" if size < 999_500 else f"{size / 1_000_000:.1f} MB"


_COLUMNS = (
    Column("tag", in_table=False),
    Column("number", "no"),
    Column("title"),
    Column("media_type", "kind of file"),
    Column("size", show=show_size),
    Column("taken_on", "taken"),
    Column("service"),
    Column("note"),
)
