"""A procedure as the due list reads it: what it applies to, what makes it due, what it resets and retests."""

from __future__ import annotations

import re
from dataclasses import dataclass

from collection.errors import Refused, fold

_MOST_MONTHS = 1200
_UNUSED = re.compile(r"unused ([0-9]{1,4}) months?", re.ASCII)
_RESET = re.compile(r"(.+?) ?: ?(level ?\+ ?slope|level)")
_EVENTS = {"after arrival": "arrival", "after loan": "loan", "after transport": "transport"}


@dataclass(frozen=True, slots=True)
class Reset:
    """A measurement (folded name) whose level a procedure starts anew; with `slope` its drift as well."""

    measurement: str
    slope: bool


@dataclass(frozen=True, slots=True)
class ProcedureRule:
    """When a procedure is due, parsed once. All names but `name` are folded.

    applies_to: kinds, drive types or models; empty for every unit. after: "arrival", "loan", "transport".
    symptoms: per trigger the words that a fault must all contain.
    """

    id: int
    name: str
    applies_to: frozenset[str]
    every_months: int | None
    every_hours: float | None
    after: frozenset[str]
    unused_months: int | None
    symptoms: tuple[tuple[str, ...], ...]
    resets: tuple[Reset, ...]
    retests: tuple[str, ...]
    minutes: int | None

    def applies(self, kind: str, drive_type: str, maker: str, model: str) -> bool:
        """Say whether the procedure is for units of this model ("Model" or "Maker Model" is listed)."""
        names = {fold(name) for name in (kind, drive_type, model, f"{maker} {model}")}
        return not self.applies_to or not self.applies_to.isdisjoint(names)


def parse_procedure(
    procedure_id: int,
    name: str,
    *,
    applies_to: str = "",
    every_months: int | None = None,
    every_hours: float | None = None,
    triggers: str = "",
    resets: str = "",
    retests: str = "",
    minutes: int | None = None,
) -> ProcedureRule:
    """Return the rule that a procedure's columns spell; lists are separated by semicolons.

    Raises Refused for an unknown form of trigger or reset, and for months or hours that are not above zero.
    """
    _check_clocks(name, every_months, every_hours)
    after, unused, symptoms = _parse_triggers(name, triggers)
    return ProcedureRule(
        id=procedure_id,
        name=name,
        applies_to=frozenset(_listed(applies_to)),
        every_months=every_months,
        every_hours=every_hours,
        after=after,
        unused_months=unused,
        symptoms=symptoms,
        resets=tuple(_parse_reset(name, text) for text in _listed(resets)),
        retests=tuple(_listed(retests)),
        minutes=minutes,
    )


def _listed(text: str) -> list[str]:
    """Return the folded parts of a list separated by semicolons, without empty ones."""
    return [fold(part) for part in text.split(";") if part.strip()]


def _check_clocks(name: str, every_months: int | None, every_hours: float | None) -> None:
    """Refuse an interval that no calendar or meter can keep."""
    if every_months is not None and not 1 <= every_months <= _MOST_MONTHS:
        raise Refused(
            f'Procedure "{name}": every {every_months} months is outside 1 to {_MOST_MONTHS}.',
            "Type whole months, as 12, or leave it empty.",
        )
    if every_hours is not None and not every_hours > 0:
        raise Refused(
            f'Procedure "{name}": every {every_hours:g} hours is not above zero.',
            "Type running hours, as 500, or leave it empty.",
        )


def _parse_triggers(name: str, triggers: str) -> tuple[frozenset[str], int | None, tuple[tuple[str, ...], ...]]:
    """Return the events, the fewest months unused, and the words of each symptom in a list of triggers."""
    after, unused, symptoms = set(), [], []
    for trigger in _listed(triggers):
        match = _UNUSED.fullmatch(trigger)
        if trigger in _EVENTS:
            after.add(_EVENTS[trigger])
        elif match is not None and 1 <= int(match[1]) <= _MOST_MONTHS:
            unused.append(int(match[1]))
        elif trigger.startswith("symptom "):
            symptoms.append(tuple(trigger.split()[1:]))
        else:
            raise Refused(
                f'Procedure "{name}": trigger "{trigger}" is not known.',
                'Type "after arrival", "after loan", "after transport", "unused 12 months"'
                ' or "symptom WORDS", separated by semicolons.',
            )
    return frozenset(after), min(unused, default=None), tuple(symptoms)


def _parse_reset(name: str, text: str) -> Reset:
    """Return what "spindle speed: level+slope" spells."""
    match = _RESET.fullmatch(text)
    if match is None:
        raise Refused(
            f'Procedure "{name}": resets "{text}" is not known.',
            'Type "MEASUREMENT: level" or "MEASUREMENT: level+slope", separated by semicolons.',
        )
    return Reset(match[1], slope=match[2] != "level")
