"""unit turn: note that a screw was turned."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.show import emit_object, say
from collection.cli.tags import complete_tag


@click.command("turn")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("direction")
@click.argument("amount")
@click.option("--screw", required=True, metavar="NAME", help="Which screw: speed trimmer, zero stop, head clamp ...")
@click.option("--for", "measurement", default="", metavar="MEASUREMENT", help="What it sets.")
@click.option("--on", default="", metavar="DATE", help="Day it was turned (else today).")
@click.option("--note", default="", metavar="TEXT", help="Anything else: lacquer broken, end reached.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def turn_command(
    face: Face,
    /,
    tag: str,
    screw: str,
    direction: str,
    amount: str,
    measurement: str,
    on: str,
    note: str,
    as_json: bool,
) -> None:
    """Note which screw was turned, which way and how far.

    \b
    spindlebook unit turn D1 --screw "speed trimmer" clockwise 1/8
    spindlebook unit turn D1 --screw "zero stop" counter-clockwise "45 deg"

    DIRECTION is clockwise or counter-clockwise, as seen facing the screw. AMOUNT is in turns, as 1/8, "1 1/2" or 0.5,
    or in degrees. The card then says where each screw stands against where it was first turned from. A wrong one is
    taken back with: spindlebook undo

    Keys of --json: tag, screw, direction, amount, measurement, done_on, service, net (turns, clockwise above zero),
    times.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.adjustments import GivenTurn, turn_screw
    from collection.analysis.turns import show_net
    from collection.cli.service_show import turned_object
    from collection.views.units import find_unit

    given = GivenTurn(screw, amount, direction, measurement, note)
    made, now = turn_screw(face.engine(), tag, given, on=on, today=face.today, now=face.now)
    with face.view() as conn:
        tag = find_unit(conn, tag).tag
    if as_json:
        told = {"tag": tag, **turned_object(made), "service": made.service or None}
        emit_object(told | {"net": float(now.net), "times": now.times})
        return
    say(f"{tag}: {made.screw} turned {made.entered} {made.direction}.")
    if now.times > 1:
        of = " of where it was first" if now.net else " at first"
        say(f"Turned {now.times} times since {now.first_on}: it stands {show_net(now.net)}{of}.")
