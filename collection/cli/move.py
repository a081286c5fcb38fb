"""move-to: the book in another place."""

import click

from collection.cli.face import Face
from collection.cli.show import say
from collection.errors import typed


@click.command("move-to")
@click.argument("place", metavar="URL")
@click.pass_obj
def move_to_command(face: Face, place: str) -> None:
    """Copy the book to a database server, or back to a file.

    spindlebook move-to postgresql+psycopg://USER@HOST/NAME

    URL is an empty database, or the name of a new file. The number and digest of the rows of every table are compared
    and the chain of acts is walked before the copy is kept; one that is cut short leaves nothing. The book that you
    have stays where it is, as it was; the last lines say how to go on with the new one.
    """
    from collection.acts.move import move_to
    from collection.store.engine import show_location

    moved = move_to(face.engine(), place)
    say(f"Copied to {moved.place}")
    chain = "1 act forms" if moved.acts == 1 else f"{moved.acts} acts form"
    say(f"{moved.rows} rows; counts and digests of all {moved.tables} tables agree, {chain} one chain.")
    say(f"Last act's seal {moved.last_seal}")
    say(f"The old book stays as it was in {show_location(face.location)}")
    say("What is entered in one from now on is not in the other.")
    named = typed(moved.place)
    say(f"Look at the new one:  spindlebook --db {named} where")
    say(f"Go on with it:        export SPINDLEBOOK_DB={named}")
    if moved.has_password:
        say("The password is not shown: keep it in the file .pgpass in your home, or write it into the URL again.")
