"""The walk through a guided service: each answer is kept at once, and can be taken back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

from collection.acts.service_given import GivenService
from collection.acts.service_guide import keep_answer
from collection.acts.service_record import ServiceDone
from collection.acts.service_supplies import cautions_for
from collection.acts.undo import undo
from collection.analysis.guide import Place, block_before, next_block
from collection.cli.guide_ask import Again, Answer, Question, Word, ask_more, ask_question, ask_reason, show_refusal
from collection.cli.guide_close import findings_block, minutes_block, outcome_block
from collection.cli.guide_readings import as_found_block, as_left_block
from collection.cli.guide_step import Bench, Block, Step
from collection.cli.guide_work import parts_block, supplies_block, tasks_block
from collection.cli.service_show import show_report
from collection.cli.show import note, say
from collection.errors import Expected, NeedsReason, PastDate, Refused, typed
from collection.views.service_guide import last_kept, place_of
from collection.views.service_guide_work import kept_readings, kept_uses, last_served
from collection.views.service_report import doubts_of, service_report

_BLOCKS: Mapping[str, Callable[[Bench], Block]] = {
    "as found": as_found_block,
    "tasks": tasks_block,
    "supplies": supplies_block,
    "parts": parts_block,
    "as left": as_left_block,
    "findings": findings_block,
    "minutes": minutes_block,
    "outcome": outcome_block,
}
_LONGEST = 50  # characters of a finding that are said again


class Passed(NamedTuple):
    """A question that was passed: where it stands, the act that kept its answer (None: it was skipped)."""

    place: Place
    act_id: int | None
    said: str


class Walk:
    """One sitting at the guide, from a question to the outcome or to where it is stopped."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.passed: list[Passed] = []
        self.as_last_unit = ""  # the block that is answered as for the last unit
        self.done: ServiceDone | None = None

    def go(self, place: Place) -> None:
        """Ask from a place on, and show the service when it is closed."""
        try:
            self._ask_all(place)
        except (KeyboardInterrupt, EOFError):
            note("", self._where())
            raise KeyboardInterrupt from None
        if self.done is None:
            note(self._where())
            return
        face = self.bench.face
        with face.view() as conn:
            report = service_report(conn, self.done.service_id, face.today)
        say("")
        show_report(report, self.bench.form, face.today)

    def _ask_all(self, first: Place) -> None:
        place: Place | None = first
        block, name = Block(()), ""
        while place is not None and self.done is None:
            if place.block != name:
                block, name = _BLOCKS[place.block](self.bench), place.block
                if block.titled:
                    say(*([] if name == first.block else [""]))
                    say(name.capitalize(), bold=True)
            step = block.step(place.question)
            place = next_block(name) if step is None else self._pass(step, place, block)

    def _pass(self, step: Step, place: Place, block: Block) -> Place | None:
        """Ask a question until it is answered or left; return the place that comes next."""
        say(*step.before)
        onward = Place(place.block, place.question + 1)
        following = onward if block.step(onward.question) else next_block(place.block)
        while True:
            try:
                answer = self._answer(step, place.block)
                if answer.word is Word.BACK:
                    return self._back(place)
                given = _told(step, answer)
                if given is None:
                    self.passed.append(Passed(place, None, ""))
                    ends = answer.word is Word.SKIP_ALL or place.question > len(block.steps)
                    return next_block(place.block) if ends else onward
                done, said = self._keep(given, following)
            except Expected as refusal:
                self.as_last_unit = ""
                self._give_up_when_closed(refusal)
                show_refusal(refusal)
            except Again:
                self.as_last_unit = ""
            else:
                self.passed.append(Passed(place, done.act_id, said))
                return following

    def _answer(self, step: Step, block: str) -> Answer:
        """Return the answer, with its text where it is taken from the last unit."""
        if self.as_last_unit == block:
            try:
                return self._same(step)
            except Refused:
                pass  # what cannot be taken from another unit is asked
        answer = ask_question(step.question)
        if answer.word is not Word.SAME:
            return answer
        same = self._same(step)
        self.as_last_unit = block
        return same

    def _same(self, step: Step) -> Answer:
        face = self.bench.face
        with face.view() as conn:
            report = last_served(conn, self.bench.unit.id, face.today)
        text = step.same(report)
        say(f"as {report.unit.tag}: {text or 'nothing'}")
        return Answer(Word.SAME, text)

    def _keep(self, given: GivenService, following: Place | None) -> tuple[ServiceDone, str]:
        """Keep an answer, with what has to be confirmed for it, and say what was kept."""
        bench, face = self.bench, self.bench.face
        if bench.service_id is None:
            given = replace(given, anyway=bench.anyway)
        if given.used or given.parts:
            with face.view() as conn:
                cautions = cautions_for(conn, given)
            bench.warn(cautions)
        while True:
            try:
                done = keep_answer(
                    face.engine(),
                    bench.unit.tag,
                    given,
                    following,
                    is_open=bench.service_id is not None,
                    today=face.today,
                    now=face.instant(),
                )
                break
            except PastDate as refusal:
                given = _past_date(given, refusal)
            except NeedsReason as refusal:
                given = _with_reason(given, refusal)
        bench.service_id = done.service_id
        self.done = done if following is None else None
        return done, self._say_kept(given, done)

    def _say_kept(self, given: GivenService, done: ServiceDone) -> str:
        with self.bench.face.view() as conn:
            told = [*kept_readings(conn, self.bench.unit, done.act_id), *kept_uses(conn, done.act_id)]
            doubts = doubts_of(conn, done.act_id)
        said = "; ".join(told) or _in_words(given)
        say(f"kept: {said}", *(f"Doubtful: {doubt}" for doubt in doubts), *done.notes)
        return said

    def _back(self, place: Place) -> Place:
        """Return the place of the question before; what was kept for it is taken back."""
        self.as_last_unit = ""
        if not self.passed:
            return self._back_before(place)
        earlier = self.passed[-1]
        if earlier.act_id is not None:
            self._take_back(earlier.act_id, earlier.said)
        self.passed.pop()
        return earlier.place

    def _back_before(self, place: Place) -> Place:
        """Go back behind the question with which this sitting began."""
        bench = self.bench
        with bench.face.view() as conn:
            stood = None if bench.service_id is None else place_of(conn, bench.service_id)
            act_id = None if bench.service_id is None else last_kept(conn, bench.service_id)
        if act_id is None or stood is None:
            note("This is the first question.")
            return place
        self._take_back(act_id, "")
        if stood.question > 1:
            return Place(stood.block, stood.question - 1)
        before = block_before(stood.block)
        return Place(before, len(_BLOCKS[before](bench).steps))

    def _take_back(self, act_id: int, said: str) -> None:
        """Undo an act; where it opened the service, the next answer opens one again."""
        face, bench = self.bench.face, self.bench
        undone = undo(face.engine(), act_id, today=face.today, now=face.instant())
        say(f"taken back: {said or undone.summary}")
        with face.view() as conn:
            if bench.service_id is not None and place_of(conn, bench.service_id) is None:
                bench.service_id = None

    def _give_up_when_closed(self, refusal: Expected) -> None:
        """Raise a refusal on where the service was closed or taken back meanwhile, at another terminal."""
        with self.bench.face.view() as conn:
            if self.bench.service_id is not None and place_of(conn, self.bench.service_id) is None:
                raise refusal

    def _where(self) -> str:
        if self.bench.service_id is None:
            return "Nothing was kept."
        tag = self.bench.unit.tag
        said = f"What was answered is kept, and the service of {tag} is open."
        return f"{said}\nGo on: spindlebook service resume {typed(tag)}"


def _told(step: Step, answer: Answer) -> GivenService | None:
    """Return what an answer tells, or None where it leaves the question unanswered."""
    if answer.word is Word.ENTER:
        return step.enter() if step.enter else None
    return step.given(answer.text) if answer.text else None


def _past_date(given: GivenService, refusal: PastDate) -> GivenService:
    """Return the same with the word that stock past its date was used. Raises Again where it was not."""
    note(refusal.what)
    answer = ask_more(Question("  used all the same", "yes or no.", "no"))
    if answer.casefold() not in ("y", "yes"):
        raise Again
    return replace(given, past_date_anyway=True)


def _with_reason(given: GivenService, refusal: NeedsReason) -> GivenService:
    """Return the same with a reason for going against a rule. Raises Again where there is none."""
    note(refusal.what)
    return replace(given, anyway=ask_reason("all the same, because (Enter: answer again)"))


def _in_words(given: GivenService) -> str:
    parts = [f"{part.part} from {part.supply or part.donor}" for part in given.parts]
    none = [f"none of {use.supply}" for use in given.used]
    minutes = [] if given.minutes is None else [f"{given.minutes} minutes"]
    findings = [given.findings if len(given.findings) <= _LONGEST else f"{given.findings[:_LONGEST]}..."]
    return ", ".join(filter(None, [*given.did, *none, *parts, *minutes, *findings, given.outcome]))
