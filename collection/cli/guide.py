"""The guided service: it asks block by block and keeps each answer at once, so that it can be interrupted."""

from __future__ import annotations

from collection.acts.service_given import GivenService
from collection.acts.service_steps import refuse_out_of_reach
from collection.analysis.guide import FIRST
from collection.cli.face import Face
from collection.cli.guide_ask import Again, ask_reason
from collection.cli.guide_step import Bench
from collection.cli.guide_walk import Walk
from collection.cli.show import Column, emit, has_person, note, say
from collection.errors import NeedsReason, Refused, typed
from collection.quantity import show_day
from collection.store.book import open_book
from collection.views.service_guide import OpenGuide, guide_of, open_guides, place_of
from collection.views.service_report import cautions_ahead
from collection.views.services import open_service_of
from collection.views.units import find_unit, unit_on

_HOW = "Enter takes what stands in [ ]. Also: back, skip, same, ? (what can be typed)."


def begin(face: Face, tag: str) -> None:
    """Guide through a new service of a unit. Raises Refused where there is nobody to ask, or one is open."""
    with face.view() as conn:
        unit = unit_on(conn, find_unit(conn, tag).id, face.today)
        service = open_service_of(conn, unit.id)
        guided = service is not None and place_of(conn, service.id) is not None
        form = open_book(conn).settings.date_form
    if not has_person():
        raise Refused(
            f"What was done to {unit.tag} is not said, and there is no terminal to ask at.",
            "Add --did, --as-found, --as-left, --used, --findings or --from; see: spindlebook service record --help",
        )
    if service is not None:
        way = "resume" if guided else "close"
        raise Refused(
            f"{unit.tag} has a service open since {service.opened_on}.",
            f"Type: spindlebook service {way} {typed(unit.tag)}",
        )
    say(f"{unit.tag}  {f'{unit.maker} {unit.model}'.strip()}, {unit.standing or 'no standing'}", bold=True)
    say(_HOW, "")
    bench = Bench(face, unit, form)
    if not _at_hand(bench):
        return
    _warn(bench)
    Walk(bench).go(FIRST)


def resume(face: Face, tag: str | None) -> None:
    """Go on with the guided service of a unit, or with the only one that is open; several are listed."""
    with face.view() as conn:
        open_ones = [guide_of(conn, tag)] if tag else open_guides(conn)
        form = open_book(conn).settings.date_form
    if not open_ones:
        say("No guided service is open. Type: spindlebook service record TAG")
        return
    if len(open_ones) > 1:
        _list(open_ones, form)
        return
    (guide,) = open_ones
    if not has_person():
        raise Refused(
            f"There is no terminal to ask at about {guide.tag}.", f"Type: spindlebook service add {typed(guide.tag)}"
        )
    with face.view() as conn:
        unit = unit_on(conn, guide.unit_id, face.today)
    say(f"{guide.tag}: {guide.said(form)}", bold=True)
    say(_HOW, "")
    bench = Bench(face, unit, form, guide.service_id)
    if guide.place.block == FIRST.block:
        _warn(bench)
    Walk(bench).go(guide.place)


def _at_hand(bench: Bench) -> bool:
    """Say whether the unit is at hand; for one that is out or lost a reason is asked for."""
    try:
        refuse_out_of_reach(bench.unit, GivenService())
    except NeedsReason as refusal:
        note(refusal.what)
        try:
            bench.anyway = ask_reason("it is here all the same, because (Enter: stop)")
        except Again:
            return False
    return True


def _warn(bench: Bench) -> None:
    """Show the cautions of the work that lies ahead: the unit is opened for its readings too."""
    with bench.face.view() as conn:
        cautions = cautions_ahead(conn, bench.unit.id, bench.face.today)
    bench.warn(cautions)


def _list(open_ones: list[OpenGuide], form: str) -> None:
    rows = [{"tag": each.tag, "opened_on": each.opened_on, "next": each.place.block} for each in open_ones]
    emit(rows, [Column("tag"), Column("opened_on", "open since", show=lambda day: show_day(day, form)), Column("next")])
    say("Type: spindlebook service resume TAG")
