"""One question of a guided service, as a person at a terminal sees it and answers it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from collection.cli.show import answer, note, say
from collection.errors import Expected, Moved, fold


class Word(Enum):
    """What an answer is: a text, or a word that the guide itself understands."""

    TEXT = "text"
    ENTER = "Enter"
    BACK = "back"
    SKIP = "skip"
    SKIP_ALL = "skip all"
    SAME = "same"


_WORDS = {
    "back": Word.BACK,
    "skip": Word.SKIP,
    "skip all": Word.SKIP_ALL,
    "same": Word.SAME,
    "same as the last unit": Word.SAME,
}
_WORDS_HELP = (
    "Enter     takes what stands in [ ], or goes on without an answer",
    "back      asks the question before again; its answer is taken back",
    "skip      goes on without an answer; skip all: with the next block",
    "same      answers as for the last unit",
    "Ctrl-C    stops; what was kept stays",
)


_LONGEST_HINT = 80


class Again(Exception):  # noqa: N818  it is no error
    """The answer was thought over: the question before is asked again."""


@dataclass(frozen=True)
class Question:
    """What is asked, in one line; can: what can be typed; offered: what Enter takes, "" for going on without."""

    text: str
    can: str
    offered: str = ""


@dataclass(frozen=True)
class Answer:
    """What came back; text is "" unless something was typed."""

    word: Word
    text: str = ""


def ask_question(question: Question) -> Answer:
    """Ask until there is an answer; "?" shows what can be typed. Raises EOFError when the input ends."""
    offered = f" [{question.offered}]" if question.offered else ""
    while True:
        typed = answer(f"{question.text}{offered}: ")
        if typed == "?":
            say(question.can, *_WORDS_HELP)
        elif not typed:
            return Answer(Word.ENTER)
        elif fold(typed) in _WORDS:
            return Answer(_WORDS[fold(typed)])
        else:
            return Answer(Word.TEXT, typed)


def ask_more(question: Question) -> str:
    """Ask for what an answer leaves open; Enter takes what is offered. Raises Again for back, skip and nothing."""
    given = ask_question(question)
    text = given.text or (question.offered if given.word is Word.ENTER else "")
    if not text:
        raise Again
    return text


def ask_reason(question: str) -> str:
    """Ask why a rule is not kept. Raises Again where there is no reason."""
    return ask_more(Question(f"  {question}", "The reason, in a line."))


def show_refusal(refusal: Expected) -> None:
    """Say why an answer was not taken; a hint that speaks of options, or lists all that there is, is left out."""
    of_options = any(sign in refusal.hint for sign in ("--", "spindlebook"))
    useful = isinstance(refusal, Moved) or (len(refusal.hint) <= _LONGEST_HINT and not of_options)
    note(f"{refusal.what} {refusal.hint}".rstrip() if useful else f"{refusal.what} Type ? for what can be typed.")
