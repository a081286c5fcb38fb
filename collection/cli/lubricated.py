"""unit lubricated: note which lubricant was put on which point."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.show import emit_object, say
from collection.cli.tags import complete_tag
from collection.quantity import show_day


@click.command("lubricated")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("point")
@click.argument("supply")
@click.option("--cleaned-off-first", is_flag=True, help="The old lubricant was taken off before.")
@click.option("--on", default="", metavar="DATE", help="Day it was put on (else today).")
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def lubricated_command(
    face: Face, /, tag: str, point: str, supply: str, cleaned_off_first: bool, on: str, note: str, as_json: bool
) -> None:
    """Note which lubricant was put on which point.

    \b
    spindlebook unit lubricated D1 rails "white grease" --cleaned-off-first

    SUPPLY is a lubricant of the drawer, or "SUPPLY/LOT". The card then tells what is on each point. Another kind over
    the old one is warned of, and marked. The amount is booked on its own: spindlebook supply use

    Keys of --json: tag, point, supply, cleaned_first, put_on, doubts.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.lubrication import lubricate, mixing_caution
    from collection.acts.service_given import GivenLube
    from collection.cli.service_show import lubed_object
    from collection.store.book import open_book
    from collection.views.units import find_unit

    given = GivenLube(point, supply, cleaned_off_first, note)
    with face.view() as conn:
        against = mixing_caution(conn, tag, given, on, face.today)
        tag, form = find_unit(conn, tag).tag, open_book(conn).settings.date_form
    if not as_json:
        say(*(f"Caution: {text} If it was, take this back and type --cleaned-off-first." for text in against))
    noted = lubricate(face.engine(), tag, given, on=on, today=face.today, now=face.now)
    if as_json:
        emit_object({"tag": tag, **lubed_object(noted), "doubts": against})
        return
    old = ", the old one cleaned off first" if noted.cleaned_first else ""
    say(f"{tag}: {noted.put.supply} on {noted.point} since {show_day(noted.since, form)}{old}.")
    if against:
        say("Marked as doubtful: the old one was not cleaned off first.")
