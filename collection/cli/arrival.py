"""arrival: note a unit that came, as it came."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.photo import named_photo
from collection.cli.show import emit_object, say
from collection.cli.tags import complete_tag
from collection.cli.unit import record_options_but_note

if TYPE_CHECKING:
    from collection.acts.arrivals import GivenArrival

_TEXTS = {"mains": "mains_setting", "entry": "entry_number", "came_for": "reason", "receipt": "receipt_on"}
_OWN = ("contents", "damage", "mains", "fuse", "cord", "note", "entry", "came_for", "return_by", "receipt")
_PLACE = ("owner", "location", "new_location", "on", "new_instrument")


@click.command("arrival")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--from", "sender", default="", metavar="PERSON", help="Who sent or brought it.")
@click.option("--for", "came_for", metavar="TEXT", help="Why it came: a gift, a loan, to be mended, to look at.")
@click.option("--return-by", metavar="DATE", help="Day by which it goes back, where it does.")
@click.option(
    "--entry", metavar="NUMBER", help="Its entry number (else the next); several that came at once share one."
)
@click.option("--receipt", metavar="DATE", help="Day on which a receipt was given for it.")
@click.option("--contents", metavar="TEXT", help="What came in the box.")
@click.option("--damage", metavar="TEXT", help="What is broken, bent, cracked or missing.")
@click.option("--mains", metavar="TEXT", help="For which mains it is set: 230 V, 115/230 V set to 115 V.")
@click.option("--fuse", metavar="TEXT", help="The fuse that is in it.")
@click.option("--cord", metavar="TEXT", help="Its mains cord and plug.")
@click.option("--note", metavar="TEXT", help="Anything else about the arrival.")
@click.option("--reading", "readings", multiple=True, metavar="READING", help="Taken as it came; as in service record.")
@click.option("--instrument", "instruments", multiple=True, metavar="NAME", help="Of readings that name none.")
@click.option("--new-instrument", is_flag=True, help="Add an instrument that the book does not have.")
@click.option("--photo", "photos", multiple=True, metavar="FILE", help="A picture of it; TITLE=FILE names it.")
@click.option("--on", default="", metavar="DATE", help="Day it came (else today).")
@click.option("--owner", default="", metavar="NAME", help="Whose it is.")
@click.option("--location", default="", metavar="NAME", help="Where it is put.")
@click.option("--new-location", is_flag=True, help="Make the location if the book has none of this name.")
@record_options_but_note
@click.option("--correct", is_flag=True, help="Put right what its last arrival says; needs --reason.")
@click.option("--reason", default="", metavar="TEXT", help="Why it is put right.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def arrival_command(face: Face, /, tag: str, correct: bool, reason: str, as_json: bool, **told: Any) -> None:
    """Note a unit that came, as it came.

    \b
    spindlebook arrival D15 --model "VK 410" --from "Ada Field" \\
      --contents "drive, two disks" --damage "bezel cracked" \\
      --photo "front=front.jpg" --for gift
    spindlebook arrival D3 --mains "115 V" --fuse "1 A slow" --cord none

    A tag that the book does not have is a new unit and needs its --model; one that it has comes again. The unit
    stands as arrived, and is due for what the procedures ask for after an arrival, until a service looks it over.
    Readings here are taken between services. Without any option a person at a terminal is asked line by line.

    With --correct the last arrival of the unit is put right; --json then has only tag and changes, a list of what,
    before and after.

    Keys of --json: tag, new (to the book), arrived_on, from, contents, damage, mains_setting, fuse, cord, note,
    entry_number, reason (why it came), return_by, receipt_on, standing, photos (their number), readings (measurement,
    point, value), due (procedure, due, days_over, why), cautions, doubts.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    if correct:
        _correct(face, tag, told, reason, as_json=as_json)
        return
    from collection.acts.arrivals import record_arrival
    from collection.cli.arrival_show import arrival_object, show_arrival
    from collection.cli.service_show import show_cautions
    from collection.views.arrivals import CAUTIONS, is_new
    from collection.views.procedures import Caution

    with face.view() as conn:
        new = is_new(conn, tag)
    if not as_json:
        show_cautions([Caution(text, ()) for text in CAUTIONS])
        told |= _asked(face, tag, told, new=new)
    done = record_arrival(face.engine(), tag, _given(told), today=face.today, now=face.now)
    if as_json:
        emit_object(arrival_object(face, done))
    else:
        show_arrival(face, done)


def _correct(face: Face, tag: str, told: dict[str, Any], reason: str, *, as_json: bool) -> None:
    from collection.acts.arrivals import correct_arrival

    changes = correct_arrival(face.engine(), tag, _given(told), reason=reason, today=face.today, now=face.now)
    if as_json:
        rows = [dict(zip(("what", "before", "after"), change, strict=True)) for change in changes]
        emit_object({"tag": tag, "changes": rows})
        return
    for name, before, after in changes:
        label = "from" if name == "sender" else name.replace("_", " ")
        say(f"{label}: {before or '(nothing)'} -> {after or '(nothing)'}")
    if not changes:
        say("Nothing to do: it says so already.")


def _given(told: dict[str, Any]) -> GivenArrival:
    from collection.acts.arrivals import GivenArrival
    from collection.cli.service_words import parse_reading

    record = {
        name: value
        for name, value in told.items()
        if value is not None and name not in (*_OWN, *_PLACE, "sender", "readings", "instruments", "photos")
    }
    return GivenArrival(
        sender=told["sender"],
        texts={_TEXTS.get(name, name): told[name] for name in _OWN if told[name] is not None},
        record=record,
        readings=tuple(map(parse_reading, told["readings"])),
        instruments=told["instruments"],
        photos=tuple(map(named_photo, told["photos"])),
        **{name: told[name] for name in _PLACE},
    )


def _asked(face: Face, tag: str, told: dict[str, Any], *, new: bool) -> dict[str, Any]:
    """Return what a person at a terminal answers who typed no option at all; nothing otherwise."""
    from collection.cli.show import has_person

    if any(told.values()) or not has_person():
        return {}
    from collection.cli.arrival_ask import ask_about

    return ask_about(face, tag, new=new)
