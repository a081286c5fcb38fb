"""backup: checked copies of the book, which ones are kept, and which may go."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from collection.cli.backups import backups_folder
from collection.cli.face import Face, state_folder
from collection.cli.show import Column, Mode, confirm, emit, note, output_options, progress, say
from collection.cli.whole import Whole

if TYPE_CHECKING:
    from collection.acts.backups import Judged
    from collection.analysis.keeping import Rule


class _BackupGroup(click.Group):
    """What is no command of the group is the FILE of `backup take`, and no word at all takes one too."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put "take" before a file, or in the place of nothing."""
        if not args or (args[0] not in self.commands and args[0] not in ctx.help_option_names):
            self._refuse_mistyped(ctx, args[:1])
            args = ["take", *args]
        return super().parse_args(ctx, args)

    def _refuse_mistyped(self, ctx: click.Context, words: Sequence[str]) -> None:
        """Take a word that is nearly a command for no file: a backup named "lst" helps nobody."""
        for word in words:
            meant = get_close_matches(word, self.commands, n=1, cutoff=0.7) if word.isalpha() else []
            if meant and not ctx.resilient_parsing:
                message = (
                    f"There is no command {word!r}; did you mean {meant[0]}? For a file of that name type ./{word}"
                )
                raise click.UsageError(message, ctx)


@click.group("backup", cls=_BackupGroup, subcommand_metavar="[FILE|FOLDER] | COMMAND")
def backup_group() -> None:
    """Copy the book into a verified file; list and prune backups.

    Alone it makes one in the folder where backups are kept; with FOLDER there, under a name of its own; with FILE in a
    new file.

    The book may be in use meanwhile. Beside each backup stands its .manifest.json with digests and row counts: keep
    both together. A book on a server is copied into such a file too. One is made by itself before each import, restore
    and upgrade.
    """


@backup_group.command("take")
@click.argument("place", metavar="[FILE|FOLDER]", type=click.Path(path_type=Path), required=False)
@click.pass_obj
def take_command(face: Face, place: Path | None) -> None:
    """Copy the book into a verified file.

    Without a word into the folder where backups are kept; "take" may be left out.
    """
    from collection.acts.backups import keep
    from collection.store.backup import back_up
    from collection.store.kept import Kept, remember

    if place is None or place.is_dir():
        kept = keep(face.engine(), place or backups_folder(face), "", face.now)
    else:
        kept = Kept(place, back_up(face.engine(), place, face.now))
    remember(state_folder(), kept)
    manifest = kept.manifest
    say(f"Backed up to {kept.file}: {manifest.size / 1_000_000:.1f} MB, {sum(manifest.rows.values())} rows, checked.")
    say(f"sha256 {manifest.sha256}")
    say(f"Last act's seal {manifest.last_seal}")
    if place is None and _on_one_disk(face, kept.file):
        note("It is on the book's disk: keep one elsewhere too (spindlebook backup FOLDER).")


def _on_one_disk(face: Face, file: Path) -> bool:
    from collection.store.engine import book_url

    url = book_url(face.location)
    return url.get_backend_name() == "sqlite" and Path(str(url.database)).stat().st_dev == file.stat().st_dev


def _rule_options(command: Any) -> Any:
    for name, text in (
        ("months", "Of so many months the last one stays."),
        ("days", "Of so many days the last one stays."),
        ("newest", "So many newest ones stay."),
    ):
        least, usual = (1, 7) if name == "newest" else (0, {"days": 14, "months": 12}[name])
        command = click.option(f"--{name}", type=Whole(least, 10_000), default=usual, show_default=True, help=text)(
            command
        )
    return command


@backup_group.command("list")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False, exists=True), required=False)
@output_options
@click.pass_obj
def list_command(face: Face, folder: Path | None, mode: Mode) -> None:
    """List the backups of the book, each looked into.

    Those in the folder where they are kept, or in FOLDER. Where the book itself cannot be read, those of any book.
    Keys of --json: made_at, file, why, size (bytes), acts, schema, condition (good, damaged, newer: for a newer
    program), stays.
    """
    from collection.analysis.keeping import Rule

    judged, zone = _judged(face, folder, Rule())
    where = folder or backups_folder(face)
    emit(
        _rows(judged),
        _columns(zone),
        mode,
        empty=f"There is no backup of the book in {where}. Type: spindlebook backup",
    )
    if mode == "table" and judged:
        say(f"In {where}. Put one in the place of the book: spindlebook restore FILE")
        going = sum(not each.stays for each in judged)
        if going:
            say(f"{going} of {len(judged)} may go: spindlebook backup prune")
        _tell_others(where, judged)


@backup_group.command("prune")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False, exists=True), required=False)
@_rule_options
@click.option("--yes", is_flag=True, help="Remove them without being asked.")
@output_options
@click.pass_obj
def prune_command(face: Face, folder: Path | None, newest: int, days: int, months: int, yes: bool, mode: Mode) -> None:
    """Remove the backups that the rule no longer keeps.

    Shows first which ones stay and which go. Days and months count when there is a backup of them. Only good ones of
    this book are removed, and the newest good one never; what is damaged stays for you to look at.
    Keys of --json: made_at, file, why, size (bytes), acts, schema, condition, stays.
    """
    from collection.acts.backups import prune
    from collection.analysis.keeping import Rule
    from collection.store.kept import end_removals

    judged, zone = _judged(face, folder, Rule(newest, days, months))
    emit(_rows(judged), _columns(zone, stays=True), mode, empty="There is no backup of the book.")
    going = [each.kept for each in judged if not each.stays]
    tell = say if mode == "table" else note
    ended = end_removals(folder or backups_folder(face))
    if ended:
        tell(f"Removed what {_of(ended, 'removal')} that {'was' if ended == 1 else 'were'} cut off had left.")
    megabytes = sum(kept.manifest.size for kept in going) / 1_000_000
    if not going:
        tell("Nothing to do: all stay.")
    elif yes or (mode == "table" and confirm(f"Remove {len(going)} of {len(judged)}, {megabytes:.1f} MB?")):
        prune(judged)
        tell(f"Removed {len(going)} of {len(judged)}, {megabytes:.1f} MB.")
    else:
        tell(f"{len(going)} of {len(judged)} would go, {megabytes:.1f} MB; nothing was removed. To remove them: --yes")


def _judged(face: Face, folder: Path | None, rule: Rule) -> tuple[list[Judged], str]:
    """Return the backups, looked into, and the time zone in which they are told."""
    from collection.acts.backups import judge
    from collection.cli.failures import words
    from collection.store.book import open_book
    from collection.store.kept import backups_in

    book, zone, where = None, "UTC", folder or backups_folder(face)
    try:
        with face.view() as connection:
            opened = open_book(connection)
        book, zone = opened.key, opened.settings.time_zone
    except Exception as error:
        said = words(error)
        if said is None or not backups_in(where, None):
            raise
        note(said[0], "These are the backups that stand there, of whatever book:")
    with progress("looking into backups"):
        return judge(backups_in(where, book), zone, rule), zone


def _rows(judged: Sequence[Judged]) -> list[dict[str, Any]]:
    return [
        {
            "file": str(each.kept.file.absolute()),
            "made_at": each.kept.manifest.made_at,
            "why": each.kept.manifest.why,
            "size": each.kept.manifest.size,
            "acts": each.kept.manifest.rows.get("seal"),
            "schema": each.kept.manifest.schema,
            "condition": each.condition,
            "stays": each.stays,
        }
        for each in judged
    ]


def _columns(zone: str, *, stays: bool = False) -> list[Column]:
    from datetime import datetime
    from zoneinfo import ZoneInfo

    def shown(instant: str) -> str:
        return datetime.fromisoformat(instant).astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")

    return [
        Column("made_at", f"made ({zone})", shown),
        Column("file", show=lambda file: Path(file).name),
        Column("why", in_table=False),
        Column("size", "MB", lambda size: f"{size / 1_000_000:.1f}", right=True),
        Column("acts", in_table=not stays),
        Column("schema", in_table=False),
        Column("condition", in_table=not stays),
        Column("stays", "stays as", lambda reason: reason or "goes", in_table=stays),
    ]


def _tell_others(where: Path, judged: Sequence[Judged]) -> None:
    """Say what else stands there: backups of other books, of a version before 2, without a manifest, or half gone."""
    from collection.store.kept import cut_off, others_in

    cut = len(cut_off(where))
    if cut:
        note(f"{_of(cut, 'removal')} {'was' if cut == 1 else 'were'} cut off. To end it: spindlebook backup prune")
    others = others_in(where, [each.kept for each in judged])
    if others:
        files = f"{_of(len(others), 'other file')} {'stands' if len(others) == 1 else 'stand'}"
        note(f"{files} there: of another book, of an older version, of a damaged one, or a manifest alone.")


def _of(number: int, what: str) -> str:
    return f"1 {what}" if number == 1 else f"{number} {what}s"
