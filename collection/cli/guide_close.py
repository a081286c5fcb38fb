"""The last questions of a guided service: findings, minutes, outcome."""

from __future__ import annotations

from collection.acts.service_given import GivenService
from collection.acts.service_steps import OUTCOMES, against_ready
from collection.acts.service_steps import Bench as Worked
from collection.cli.guide_ask import Question
from collection.cli.guide_step import Bench, Block, Step
from collection.cli.service_words import split_value
from collection.errors import Refused
from collection.views.service_guide_work import procedures_done

_CAN_FINDINGS = "What was seen, in one line."
_CAN_MINUTES = 'Whole minutes, as "35".'
_CAN_OUTCOME = f"How the unit is left: {', '.join(OUTCOMES)}. skip: the service stays open."


def findings_block(bench: Bench) -> Block:  # noqa: ARG001  every block is made in the same way
    """Return the question what was seen."""
    question = Question("findings, in a line", _CAN_FINDINGS)
    return Block((Step(question, lambda text: GivenService(findings=text), lambda report: report.findings),))


def minutes_block(bench: Bench) -> Block:
    """Return the question how long it took; the minutes of the procedures stand beside it."""
    with bench.face.view() as conn:
        told = [each.rule.minutes for each in procedures_done(conn, bench.service_id) if each.rule.minutes]
    planned = f" (by the procedures {sum(told)})" if told else ""

    def given(text: str) -> GivenService:
        number, unit = split_value(text)
        if not (number.isascii() and number.isdigit()) or unit not in ("", "min", "minutes"):
            raise Refused(f'"{text}" is no number of minutes.', 'Type whole minutes, as "35".')
        return GivenService(minutes=int(number))

    question = Question(f"minutes of work{planned}", _CAN_MINUTES)
    return Block((Step(question, given, lambda report: "" if report.minutes is None else str(report.minutes)),))


def outcome_block(bench: Bench) -> Block:
    """Return the question how the unit is left: ready where nothing stands against it, else what does is said."""
    if bench.service_id is None:
        return Block(())
    with bench.face.view() as conn:
        against = against_ready(conn, Worked(bench.unit, bench.service_id, bench.face.today))
    offered = "on the bench" if against else "ready"
    before = tuple(f"Not ready: {sentence}." for sentence in against.sentences)

    def given(text: str) -> GivenService:
        return GivenService(outcome=text)

    question = Question("outcome", _CAN_OUTCOME, offered)
    return Block((Step(question, given, lambda report: report.outcome, lambda: given(offered), before),))
