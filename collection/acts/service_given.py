"""A service as a person tells it: plain text, nothing looked up yet."""

from __future__ import annotations

from dataclasses import dataclass

from collection.acts.adjustments import GivenTurn
from collection.acts.readings import GivenReading


@dataclass(frozen=True, slots=True)
class GivenUse:
    """So much of a supply that was used; quantity "" is what the sheet says, measured_in "" the supply's own unit."""

    supply: str
    quantity: str
    measured_in: str = ""
    lot: str = ""
    procedure: str = ""


@dataclass(frozen=True, slots=True)
class GivenPart:
    """A part that was fitted: from a supply (maybe "NAME/LOT"), out of a donor unit, or a unit's own that lay loose."""

    part: str
    supply: str = ""
    lot: str = ""
    donor: str = ""
    own_of: str = ""


@dataclass(frozen=True, slots=True)
class GivenLube:
    """A lubricant that was put on a point: a supply (maybe "NAME/LOT"); cleaned_first: the old was taken off."""

    point: str
    supply: str
    cleaned_first: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class GivenService:
    """All that can be told about a service, or about one day of it. Empty text: not said.

    by_the_sheet: book what the procedures' sheets say, besides what was told. anyway: the reason for going
    against a rule of the shelf (not ready, on loan, a part from a ready unit). past_date_anyway: supplies past
    their date were used.
    """

    on: str = ""
    did: tuple[str, ...] = ()
    as_found: tuple[GivenReading, ...] = ()
    as_left: tuple[GivenReading, ...] = ()
    used: tuple[GivenUse, ...] = ()
    parts: tuple[GivenPart, ...] = ()
    turned: tuple[GivenTurn, ...] = ()
    lubed: tuple[GivenLube, ...] = ()
    outcome: str = ""
    minutes: int | None = None
    findings: str = ""
    by: str = ""
    reason: str = ""
    instruments: tuple[str, ...] = ()
    new_instrument: bool = False
    by_the_sheet: bool = False
    anyway: str = ""
    past_date_anyway: bool = False
