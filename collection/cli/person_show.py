"""person show and person forget: what the book keeps of a person, and how it stops."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, confirm, emit, emit_object, note, say, say_pairs

if TYPE_CHECKING:
    from collection.views.person_history import PersonHistory
    from collection.views.person_texts import Mention


@click.command("show")
@click.argument("name")
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def person_show_command(face: Face, name: str, as_json: bool) -> None:
    """Show all that the book keeps of a person.

    Loans, units owned, how much else refers to them, and the texts elsewhere in which they are named. The keys of
    --json stand in docs/json-keys.md.
    """
    from collection.store.book import open_book
    from collection.views.person_history import history_of_person
    from collection.views.person_texts import mentions_of

    with face.view() as conn:
        found = history_of_person(conn, name, face.today)
        texts = mentions_of(conn, found.person)
        form = open_book(conn).settings.date_form
    if as_json:
        emit_object(_object(found, texts))
        return
    person = found.person
    say(person.name, bold=True)
    say_pairs([(key.replace("_", " "), str(getattr(person, key) or "")) for key in _DETAILS])
    _tell_kept(found, form)
    _tell_texts(texts)


@click.command("forget")
@click.argument("name")
@click.option("--reason", default="", metavar="TEXT", help="Why, without their name: the history keeps it.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def person_forget_command(face: Face, name: str, reason: str, yes: bool) -> None:
    """Forget a person whose history is closed.

    Name, addresses and note are written over, as are their earlier states; loans and services stay and count under a
    number. It cannot be taken back. Texts elsewhere in which they are named are told, and stay.
    """
    from collection.acts.forget import forget_person, may_be_forgotten
    from collection.store.book import open_book
    from collection.store.traces import sweep
    from collection.views.person_history import history_of_person
    from collection.views.person_texts import mentions_of

    with face.view() as conn:
        person = may_be_forgotten(conn, name, reason, face.today)
        found, texts = history_of_person(conn, name, face.today), mentions_of(conn, person)
        form = open_book(conn).settings.date_form
    _tell_kept(found, form)
    _tell_texts(texts)
    if not confirm(f"Forget {person.name}? This cannot be taken back.", yes=yes):
        note("Nothing was changed.")
        return
    left = forget_person(face.engine(), name, reason=reason, today=face.today, now=face.now)
    say(f'Forgotten. What happened counts on under "{left}".')
    if not sweep(face.engine()):
        _tell_unswept(face.location)
    say("Backups, exported files and printed pages from before still hold the name: delete those that you can spare.")
    if texts:
        say("The texts above hold it too; change those that can be changed.")


def _tell_unswept(location: str) -> None:
    from collection.store.engine import is_url

    if is_url(location):
        note("Old bytes of the record may still be in the database: this account does not own it, or it is full.")
        note("Its owner's account drops them, in psql: VACUUM person")
    else:
        note("Old bytes of the record may still be in the file: it is in use elsewhere, or there is no room.")
        note("Its own shell drops them, with nobody else at work: VACUUM")


def _tell_kept(found: PersonHistory, form: str) -> None:
    from collection.quantity import show_day

    def day(value: str | None) -> str:
        return show_day(value, form) if value else ""

    kept = ", ".join(f"{number} {words}" for number, words in found.kept)
    say(f"Kept besides: {kept}." if kept else "Nothing else refers to them.")
    if found.loans:
        say("", "Loans", bold=True)
        columns = [Column("loan"), Column("direction"), Column("tag"), *(Column(key, show=day) for key in _DAYS)]
        emit([_loan(row) for row in found.loans], [*columns, Column("purpose")])
    if found.owned:
        say("", "Units owned", bold=True)
        columns = [Column("tag"), Column("model"), Column("since", show=day), Column("until", show=day)]
        emit([_owned(row) for row in found.owned], columns)


def _tell_texts(texts: list[Mention]) -> None:
    """Tell of each text in which a person is named, with what to type below it."""
    if not texts:
        say("", "No text elsewhere names them. Photos and papers are not searched.")
        return
    say("", "Texts that name them, or may (photos and papers are not searched)", bold=True)
    rows = [{**_text(row), "what": row.command or "stays: no command changes it"} for row in texts]
    emit(rows, [Column("where"), Column("field"), Column("text", show=_short)], under="what")


def _short(text: Any) -> str:
    flat = " ".join(str(text).split())
    return flat if len(flat) <= _WIDE else f"{flat[: _WIDE - 3]}..."


def _object(found: PersonHistory, texts: list[Mention]) -> dict[str, Any]:
    person = found.person
    return {
        "person": person.name,
        **{key: getattr(person, key) or None for key in _DETAILS},
        "loans": [_loan(row) for row in found.loans],
        "owned": [_owned(row) for row in found.owned],
        "kept": [{"number": number, "what": words} for number, words in found.kept],
        "texts": [_text(row) | {"command": row.command or None} for row in texts],
    }


def _loan(row: Any) -> dict[str, Any]:
    return {key: getattr(row, key) or None for key in ("loan", "direction", "tag", *_DAYS, "purpose")}


def _owned(row: Any) -> dict[str, Any]:
    return {key: getattr(row, key) or None for key in ("tag", "model", "since", "until")}


def _text(row: Mention) -> dict[str, Any]:
    return {"where": row.where, "field": row.field, "text": row.text}


_DETAILS = ("role", "email", "phone", "address", "call_rank", "note")
_DAYS = ("out_on", "due_on", "back_on")
_WIDE = 60
