"""What a person tells of a loan: its terms, and of each unit how it goes out and how it comes back."""

from __future__ import annotations

from dataclasses import dataclass

from collection.acts.attachments import GivenPhoto
from collection.acts.readings import GivenReading


@dataclass(frozen=True, slots=True)
class GivenState:
    """The state of one unit as looked at; "" and () for what is not told.

    grade: pass, marginal or fail. instrument: of the readings that name none themselves.
    """

    condition: str = ""
    grade: str = ""
    readings: tuple[GivenReading, ...] = ()
    instrument: str = ""
    new_instrument: bool = False
    photos: tuple[GivenPhoto, ...] = ()

    def __bool__(self) -> bool:
        """Say whether anything is told."""
        return bool(self.condition or self.grade or self.readings or self.photos)


@dataclass(frozen=True, slots=True)
class GoingOut:
    """A unit that is handed over; along: what goes with it that has no tag of its own."""

    tag: str
    along: str = ""
    state: GivenState = GivenState()


@dataclass(frozen=True, slots=True)
class ComingBack:
    """A unit that comes back, or is lost.

    complaint: what the borrower says is wrong. missing: what went along and did not come back. damage: what is broken;
    estimate: what that costs. lost: what became of the unit itself, which does not come back.
    """

    tag: str
    state: GivenState = GivenState()
    complaint: str = ""
    missing: str = ""
    damage: str = ""
    estimate: str = ""
    lost: str = ""


@dataclass(frozen=True, slots=True)
class GivenTerms:
    """The terms of a loan. cover: whose insurance, the way there and back too. agreement: where what was signed is.

    by: who handed it out.
    """

    purpose: str = ""
    deposit: str = ""
    cover: str = ""
    agreement: str = ""
    by: str = ""
