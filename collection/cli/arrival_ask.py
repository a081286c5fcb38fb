"""The questions about a unit that came, for a person at a terminal who typed its tag alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlalchemy.engine import Connection

from collection.cli.face import Face
from collection.cli.show import answer, confirm, note
from collection.errors import Refused

_QUESTIONS = {
    "sender": "Who sent or brought it",
    "came_for": "Why did it come",
    "contents": "What came in the box",
    "damage": "Damage",
    "mains": "For which mains is it set",
    "fuse": "Fuse",
    "cord": "Mains cord and plug",
    "location": "Where is it put",
    "note": "Anything else",
}
_CAN = {
    "sender": "A person of the book by name; spindlebook person add NAME adds one.",
    "came_for": "A gift, a loan, bought, to be mended, to look at: it stands on the receipt.",
    "contents": "All that was in the box: drive, two disks, a cable without a plug.",
    "damage": "What is broken, bent, cracked or missing.",
    "mains": "The voltage, and how it is set: 230 V, or 115/230 V set to 115 V.",
    "fuse": "The fuse that is in it: 1 A slow; none where there is none.",
    "cord": "The cord and its plug as they came; none where there is none.",
    "location": "A location of the book; another one is made on a yes.",
    "note": "Anything that no question before asked for.",
}
_CAN_MODEL = "The model as its plate or paper says it: a word or a number."
_CAN_KIND = "One of the kinds named in the question, or another word for what it is."


def ask_about(face: Face, tag: str, *, new: bool) -> dict[str, Any]:
    """Return the answers by the names of the options; Enter leaves one unsaid, and nothing is written yet.

    new: whether the tag is new to the book; then its model is asked for too. A person whom the book does not have is
    asked for again; a new location is made on a yes.
    """
    note("Enter leaves a question unanswered, ? explains it; all is written at the end.")
    answers = _model(face, tag) if new else {}
    for name, question in _QUESTIONS.items():
        answers |= _one(face, name, question)
    return answers


def _model(face: Face, tag: str) -> dict[str, Any]:
    """Ask for the model of a new unit, and for its kind where the book does not have the model."""
    from collection.views.models import find_model

    typed = _something(f"{tag} is new to the book. Its model: ", _CAN_MODEL)
    with face.view() as conn:
        try:
            found = find_model(conn, typed)
        except Refused as refusal:
            note(str(refusal))
        else:
            return {"model": found.name, "maker": found.maker}
    kind = _something("If the model is new: its kind (drive, supply unit, computer ...): ", _CAN_KIND)
    return {"model": typed, "kind": kind}


def _something(prompt: str, can: str) -> str:
    typed = ""
    while not typed:
        typed = _typed(prompt, can)
    return typed


def _typed(prompt: str, can: str) -> str:
    """Ask until something else than "?" is typed, which shows what can be."""
    while (typed := answer(prompt)) == "?":
        note(can)
    return typed


def _one(face: Face, name: str, question: str) -> dict[str, Any]:
    """Ask one question until its answer can be kept."""
    from collection.views.people import find_person
    from collection.views.places import find_location

    checks: dict[str, Callable[[Connection, str], object]] = {"sender": find_person, "location": find_location}
    while True:
        typed = _typed(f"{question}: ", _CAN[name])
        if not typed:
            return {}
        with face.view() as conn:
            try:
                if name in checks:
                    checks[name](conn, typed)
            except Refused as refusal:
                note(str(refusal))
            else:
                return {name: typed}
        if name == "location" and confirm(f'Make the location "{typed}"?'):
            return {name: typed, "new_location": True}
