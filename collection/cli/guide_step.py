"""What the blocks of a guided service are made of: the bench, steps, and a block of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from collection.cli.guide_ask import Question

if TYPE_CHECKING:
    from collection.acts.service_given import GivenService
    from collection.cli.face import Face
    from collection.views.procedures import Caution
    from collection.views.service_report import ServiceReport
    from collection.views.units import Unit


@dataclass
class Bench:
    """The unit on the bench and its open service, None before the first answer.

    form: how the book writes days. warned: the cautions shown so far. instruments: with which each measurement was
    read last in this service, by its id. anyway: why a unit that is out or lost is here.
    """

    face: Face
    unit: Unit
    form: str
    service_id: int | None = None
    warned: set[str] = field(default_factory=set)
    instruments: dict[int, str] = field(default_factory=dict)
    anyway: str = ""

    def warn(self, cautions: Sequence[Caution]) -> None:
        """Show the cautions that were not shown yet in this sitting."""
        from collection.cli.service_show import show_cautions
        from collection.views.procedures import QUALIFIED

        fresh = [each for each in cautions if each.text not in self.warned]
        if fresh:
            self.warned |= {QUALIFIED, *(each.text for each in fresh)}
            show_cautions(fresh)


@dataclass(frozen=True)
class Step:
    """One question.

    given: what a typed answer tells, maybe after more questions; raises Refused or Again. enter: what Enter tells
    where something is offered, else Enter goes on without an answer. same: the answer that the last unit was given,
    "" for none. before: lines that stand above the question.
    """

    question: Question
    given: Callable[[str], GivenService]
    same: Callable[[ServiceReport], str]
    enter: Callable[[], GivenService] | None = None
    before: tuple[str, ...] = ()


@dataclass(frozen=True)
class Block:
    """The questions of one subject; another: the question that is repeated after them until Enter ends it."""

    steps: Sequence[Step]
    another: Callable[[int], Step] | None = None

    @property
    def titled(self) -> bool:
        """Say whether the block has a title: a single line that asks needs none."""
        return self.another is not None or len(self.steps) > 1 or any(step.before for step in self.steps)

    def step(self, number: int) -> Step | None:
        """Return a question, counted from 1, or None behind the last one."""
        if number <= len(self.steps):
            return self.steps[number - 1]
        return self.another(number - len(self.steps) - 1) if self.another else None
