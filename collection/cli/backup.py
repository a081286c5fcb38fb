"""backup, restore, upgrade: copies of the book that are checked."""

from pathlib import Path

import click

from collection.cli.face import Face, state_folder
from collection.cli.show import confirm, say


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_obj
def backup_command(face: Face, file: Path) -> None:
    """Copy the book into a verified file.

    The book may be in use meanwhile. Beside FILE stands FILE.manifest.json with digests and row counts: keep both
    together. A book on a server is copied into such a file too.
    """
    from collection.store.backup import back_up

    manifest = back_up(face.engine(), file, face.now)
    say(f"Backed up to {file}: {manifest.size / 1_000_000:.1f} MB, {sum(manifest.rows.values())} rows, checked.")
    say(f"sha256 {manifest.sha256}")
    say(f"Last act's seal {manifest.last_seal}")


@click.command("restore")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def restore_command(face: Face, file: Path, yes: bool) -> None:
    """Put a backup in the place of the book.

    FILE is checked against its manifest first; the present state is kept aside as a backup of its own.
    """
    from collection.acts.restore import restore
    from collection.store.backup import check_backup

    manifest = check_backup(file)
    say(f"{file}: made {manifest.made_at}, {sum(manifest.rows.values())} rows, as its manifest says.")
    if not yes and not confirm("Put it in the place of the present book?"):
        say("Nothing was changed. To go on without being asked: --yes")
        return
    restored = restore(face.engine(), file, _kept(face), face.now)
    say("Restored.")
    if restored.kept:
        say(f"The state before is kept in {restored.kept}")


@click.command("upgrade")
@click.pass_obj
def upgrade_command(face: Face) -> None:
    """Bring a book of an older version to this one.

    A verified backup is made first. Reference rows that nobody changed are brought to their newest revision.
    """
    from collection.acts.restore import upgrade

    done = upgrade(face.engine(), _kept(face), today=face.today, now=face.now)
    if done.before == done.after and not done.rows:
        say(f"Nothing to do: the book has schema {done.after}.")
        return
    say(f"Upgraded from schema {done.before} to {done.after}; {done.rows} rows of reference data refreshed.")
    if done.kept:
        say(f"The state before is kept in {done.kept}")


def _kept(face: Face) -> Path:
    """Backups made on the way stand beside the book's file, or in the state folder for a book on a server."""
    from collection.store.engine import book_url

    url = book_url(face.location)
    if url.get_backend_name() == "sqlite":
        return Path(str(url.database)).parent / "kept"
    return state_folder() / "kept"
