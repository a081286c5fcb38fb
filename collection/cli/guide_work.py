"""The questions of a guided service about the work itself: tasks, supplies, parts."""

from __future__ import annotations

import re
from collections.abc import Sequence

from collection.acts.service_given import GivenPart, GivenService, GivenUse
from collection.cli.guide_ask import Again, Question, Word, ask_question
from collection.cli.guide_step import Bench, Block, Step
from collection.cli.service_words import parse_part, parse_use, split_value
from collection.cli.show import say
from collection.errors import Refused
from collection.quantity import show_day
from collection.views.procedures import Procedure, cautions_before, find_procedures
from collection.views.service_guide_work import (
    PartAsked,
    SupplyAsked,
    TaskOffered,
    parts_asked,
    procedures_done,
    supplies_asked,
    tasks_offered,
)
from collection.views.service_report import ServiceReport

_NUMBERS = re.compile(r"[0-9]+(?:[\s,;]+[0-9]+)*", re.ASCII)
_CAN_TASKS = 'Numbers of the list, as "1 3", or names separated by commas.'
_CAN_AMOUNT = 'An amount, as "2" or "2.5 ml"; 0 for none; "2 ml from A-2" names the lot.'
_CAN_USE = '"SUPPLY=AMOUNT UNIT" or "SUPPLY/LOT=AMOUNT UNIT", as "isopropyl alcohol 99 %=2 ml".'
_CAN_PART = '"PART=SUPPLY", "PART=SUPPLY/LOT" or "PART from TAG", as "belt from D7".'
_DONE = Question("Do the work now. Done", "yes when it is done; back chooses other tasks.", "yes")


def tasks_block(bench: Bench) -> Block:
    """Return the question which procedures are done, the due ones first."""
    with bench.face.view() as conn:
        offered = tasks_offered(conn, bench.unit, bench.face.today)
    if not offered:
        return Block(())
    due = [str(number) for number, each in enumerate(offered, 1) if each.due]

    def given(text: str) -> GivenService:
        return _after_the_work(bench, _chosen(bench, offered, text))

    def same(report: ServiceReport) -> str:
        return "; ".join(report.procedures)

    question = Question("which of them, by number", _CAN_TASKS, " ".join(due))
    enter = (lambda: given(" ".join(due))) if due else None
    return Block((Step(question, given, same, enter, tuple(_listed(bench, offered))),))


def supplies_block(bench: Bench) -> Block:
    """Return a question per supply on the sheets of the tasks, then one for each other supply."""
    with bench.face.view() as conn:
        procedures = procedures_done(conn, bench.service_id)
        asked = supplies_asked(conn, procedures, bench.unit, bench.face.today)
    known = {each.supply.id for each in asked}
    return Block([_supply_step(each) for each in asked], lambda number: _other_use(number, known))


def parts_block(bench: Bench) -> Block:
    """Return a question per part that the tasks speak of, then one for each other part."""
    with bench.face.view() as conn:
        asked = parts_asked(conn, procedures_done(conn, bench.service_id), bench.unit)
    known = {each.part for each in asked}
    return Block([_part_step(bench, each) for each in asked], lambda number: _other_part(number, known))


def _listed(bench: Bench, offered: Sequence[TaskOffered]) -> list[str]:
    width = max(len(each.procedure.name) for each in offered)
    lines = []
    for number, each in enumerate(offered, 1):
        days = (bench.face.today - each.due.due).days if each.due else 0
        over = f", {days} days over" if days > 0 else ""
        due = f"  due {show_day(each.due.due.isoformat(), bench.form)}{over}" if each.due else ""
        lines.append(f"{number:3}  {each.procedure.name:{width}}{due}".rstrip())
    return lines


def _chosen(bench: Bench, offered: Sequence[TaskOffered], text: str) -> list[Procedure]:
    """Return the procedures that numbers or names mean. Raises Refused for a number that is not in the list."""
    if _NUMBERS.fullmatch(text):
        chosen = {}
        for number in map(int, re.split(r"[\s,;]+", text)):
            if not 1 <= number <= len(offered):
                raise Refused(f"There is no {number} in the list.", f"Type numbers from 1 to {len(offered)}.")
            chosen[number] = offered[number - 1].procedure
        return list(chosen.values())
    names = [name.strip() for name in text.split(";" if ";" in text else ",") if name.strip()]
    with bench.face.view() as conn:
        return find_procedures(conn, names)


def _after_the_work(bench: Bench, procedures: Sequence[Procedure]) -> GivenService:
    """Show what stands before the work, and wait until it is done. Raises Again where it is not."""
    with bench.face.view() as conn:
        cautions = cautions_before(conn, procedures)
    if any(caution.text in bench.warned for caution in cautions):
        say("The cautions above hold for this work.")
    bench.warn(cautions)
    answer = ask_question(_DONE)
    if answer.word is not Word.ENTER and answer.text.casefold() not in ("y", "yes", "done"):
        raise Again
    return GivenService(did=tuple(each.name for each in procedures))


def _supply_step(asked: SupplyAsked) -> Step:
    name, sheet = asked.supply.name, asked.supply.show(asked.steps)
    where = f"lot {asked.lot}, {asked.supply.show(asked.held)} left" if asked.lot else "none in the drawer"
    text = f"{name} ({where}{f'; sometimes {sheet}' if asked.sometimes else ''})"

    def given(typed: str) -> GivenService:
        amount, _, lot = typed.partition(" from ")
        number, unit = split_value(amount)
        return GivenService(used=(GivenUse(name, number, unit, lot.strip().removeprefix("lot ").strip()),))

    def by_the_sheet() -> GivenService:
        return given("0") if asked.sometimes else GivenService(used=(GivenUse(name, ""),))

    def same(report: ServiceReport) -> str:
        steps = sum(each.steps for each in report.used if each.supply.id == asked.supply.id)
        return asked.supply.show(steps) if steps else "0"

    offered = "0" if asked.sometimes else sheet
    return Step(Question(text, _CAN_AMOUNT, offered), given, same, by_the_sheet)


def _other_use(number: int, known: set[int]) -> Step:
    def same(report: ServiceReport) -> str:
        sums = {each.supply.id: each.supply for each in report.used if each.supply.id not in known}
        wanted = [*sums.values()][number : number + 1]
        for supply in wanted:
            steps = sum(each.steps for each in report.used if each.supply.id == supply.id)
            return f"{supply.name}={supply.show(steps)}"
        return ""

    question = Question("another supply used, as NAME=AMOUNT", _CAN_USE)
    return Step(question, lambda text: GivenService(used=(parse_use(text),)), same)


def _part_step(bench: Bench, asked: PartAsked) -> Step:
    since = f", since {show_day(asked.since, bench.form)}" if asked.since else ""
    now = f" (now {asked.fitted or asked.part}{since})" if asked.since else ""

    def given(text: str) -> GivenService:
        if "=" in text or text.startswith(f"{asked.part} from "):
            return GivenService(parts=(parse_part(text),))
        _, word, donor = f" {text}".rpartition(" from ")
        part = GivenPart(asked.part, donor=donor) if word else GivenPart(asked.part, supply=text)
        return GivenService(parts=(part,))

    def same(report: ServiceReport) -> str:
        return next((_from_supply(report, each) for each in report.parts if each.part == asked.part), "")

    can = 'A supply, a supply and its lot as "SUPPLY/LOT", or "from TAG" for a part of a donor.'
    question = Question(f"{asked.part} fitted{now}: which", can, asked.supply)
    return Step(question, given, same, (lambda: given(asked.supply)) if asked.supply else None)


def _other_part(number: int, known: set[str]) -> Step:
    def same(report: ServiceReport) -> str:
        others = [each for each in report.parts if each.part not in known]
        return f"{others[number].part}={_from_supply(report, others[number])}" if number < len(others) else ""

    question = Question("another part fitted, as PART=SUPPLY or PART from TAG", _CAN_PART)
    return Step(question, lambda text: GivenService(parts=(parse_part(text),)), same)


def _from_supply(report: ServiceReport, part: object) -> str:
    """Return the supply that a part of the last unit was from; one of a donor was there only once."""
    supply = str(getattr(part, "supply", ""))
    if not supply:
        raise Refused(f"The part of {report.unit.tag} is not from a supply, so it was there only once.", "Type it.")
    return supply
