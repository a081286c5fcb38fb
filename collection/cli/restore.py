"""restore, upgrade: another state in the place of the book, while the present one is kept aside."""

from __future__ import annotations

from pathlib import Path

import click

from collection.cli.backups import backups_folder
from collection.cli.face import Face
from collection.cli.show import confirm, say


@click.command("restore")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def restore_command(face: Face, file: Path, yes: bool) -> None:
    """Put a backup in the place of the book.

    FILE is checked against its manifest first; the present state is kept aside as a backup of its own. A backup of an
    older version is brought to this one on the way. Which ones are kept: spindlebook backup list; of these the name
    is enough.
    """
    from zoneinfo import ZoneInfo

    from collection.acts.restore import may_be_restored, restore
    from collection.store.kept import Kept, zone_of

    file = _among_kept(face, file)
    manifest = may_be_restored(face.engine(), file)
    zone = zone_of(file)
    made = Kept(file, manifest).made_at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")
    say(f"{file}: made {made} ({zone}), {sum(manifest.rows.values()):,} rows, as its manifest says.")
    if not yes and not confirm("Put it in the place of the present book?"):
        say("Nothing was changed. To go on without being asked: --yes")
        return
    restored = restore(face.engine(), file, backups_folder(face), today=face.today, now=face.now)
    say("Restored." if restored.brought_up is None else f"Restored, and upgraded from schema {restored.brought_up}.")
    if restored.kept:
        say(f"The state before is kept in {restored.kept}")


def _among_kept(face: Face, file: Path) -> Path:
    """Return a name that stands nowhere here as that of a kept backup, where there is one."""
    kept = backups_folder(face) / file.name
    return kept if str(file) == file.name and not file.exists() and kept.exists() else file


@click.command("upgrade")
@click.option(
    "--back-to", metavar="SCHEMA", help="Give the book an older schema again, as 0004, if nothing is lost by it."
)
@click.pass_obj
def upgrade_command(face: Face, back_to: str | None) -> None:
    """Bring a book of an older version to this one.

    A verified backup is made first, of a book on a server too. Reference rows that nobody changed are brought to their
    newest revision. With --back-to an older program can open the book again; refused where it holds anything that the
    older schema has no place for.
    """
    from collection.acts.upgrade import upgrade

    if back_to is not None:
        _go_back(face, back_to)
        return
    done = upgrade(face.engine(), backups_folder(face), today=face.today, now=face.now)
    if done.before == done.after and not done.rows:
        say(f"Nothing to do: the book has schema {done.after}.")
        return
    rows = "1 row" if done.rows == 1 else f"{done.rows:,} rows"
    say(f"Upgraded from schema {done.before} to {done.after}; {rows} of reference data refreshed.")
    if done.kept:
        say(f"The state before is kept in {done.kept}")


def _go_back(face: Face, revision: str) -> None:
    from collection.acts.go_back import go_back

    done = go_back(face.engine(), revision, backups_folder(face), face.now)
    say(f"The book has schema {done.after} again. To come back to {done.before}: spindlebook upgrade")
    say(f"The state before is kept in {done.kept}")
