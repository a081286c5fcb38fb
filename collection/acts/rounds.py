"""A round as one act: one measurement read, or one procedure done, on many units.

A round is tried and kept by the same steps: trying one leaves its Work without a commit, so that a person reads
beforehand what the book would say, line by line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import day_given
from collection.acts.instruments import Instruments, choose_instrument
from collection.acts.readings import GivenReading, Held, Weighed, book_reading, weigh_reading
from collection.acts.service_given import GivenService
from collection.acts.service_steps import Bench, day_in, finish_service, note_words, note_work, start_service
from collection.acts.texts import refuse_texts, refuse_texts_of
from collection.acts.work import Work, open_work
from collection.analysis.limits import Limit, Verdict, verdict
from collection.errors import Expected, Refused, fold, typed
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.limits import Limits
from collection.views.readings import Last, last_readings, reading_counts
from collection.views.rounds import Chosen, Stops, Subject, stops_of, subject_of
from collection.views.services import open_service_of
from collection.views.units import Unit, find_unit, unit_on

BETWEEN = "between"
DONE = ("yes", "y", "done", "x")
NOT_DONE = ("no", "n", "skip")
_READ_SQL = f"""
SELECT s.point, r.instrument_id, r.value, r.grade FROM reading r JOIN series s ON s.id = r.series_id
WHERE s.unit_id = :unit AND s.measurement_id = :measurement AND r.taken_on = :day AND r.stage = :stage
  AND {reading_counts("r")}
"""
_DONE_SQL = f"""
SELECT 1 FROM task t JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND s.unit_id = :unit AND t.procedure_id = :procedure AND t.done_on = :day AND {counts("t")}
"""


@dataclass(frozen=True, slots=True)
class GivenRound:
    """A round as a person tells it: names as typed, empty text for what was not said.

    With measurement and procedure the values are those of the work as left. The rest is as for a service.
    """

    measurement: str = ""
    point: str = ""
    procedure: str = ""
    instrument: str = ""
    new_instrument: bool = False
    disk: str = ""
    on: str = ""
    by: str = ""
    outcome: str = ""
    anyway: str = ""
    by_the_sheet: bool = False
    past_date_anyway: bool = False


class Answer(NamedTuple):
    """What was told of one unit: a value, or whether it was done; row: of the file it came from, 0 for none."""

    tag: str
    value: str
    measured_in: str = ""
    note: str = ""
    row: int = 0


@dataclass(slots=True)
class Line:
    """One unit of a round.

    kind: new, same (the book has it already), doubtful (written with a mark), refused (nothing is written) or skipped.
    value: as typed; result or grade: as the book keeps it. last: of the same series,
    before. rule: why it is doubtful or refused. notes: of supplies.
    """

    kind: str
    tag: str
    row: int = 0
    value: str = ""
    location: str = ""
    point: str = ""
    result: float | None = None
    grade: str | None = None
    measured_in: str = ""
    limit: Limit | None = None
    last: Last | None = None
    says: Verdict | None = None
    rule: str = ""
    hint: str = ""
    notes: list[str] = field(default_factory=list)


@dataclass(slots=True)
class RoundDone:
    """What came of a round, line by line, and whether it was written."""

    lines: list[Line]
    written: bool

    def of(self, kind: str) -> list[Line]:
        """Return the lines of a kind."""
        return [line for line in self.lines if line.kind == kind]


@dataclass(frozen=True, slots=True)
class Round:
    """A round before its first unit: what it is of, on which day, and whom it visits."""

    subject: Subject
    on: date
    stops: Stops


def set_out(conn: Connection, given: GivenRound, chosen: Chosen, today: date) -> Round:
    """Return the round that a person asks for. Raises Refused for unknown names and where nothing is to be visited."""
    on = day_given(given.on, today)
    subject = subject_of(conn, given.measurement, given.point, given.procedure)
    return Round(subject, on, stops_of(conn, subject, chosen, on))


def try_round(engine: Engine, given: GivenRound, answers: Sequence[Answer], *, today: date, now: datetime) -> RoundDone:
    """Return what a round would write. Raises Refused for what is wrong with the round as a whole."""
    with open_work(engine, "round", today=today, now=now, reason=given.anyway or None) as work:
        return RoundDone(_Round(work, given).all_of(answers), written=False)


def keep_round(
    engine: Engine, given: GivenRound, answers: Sequence[Answer], *, today: date, now: datetime
) -> RoundDone:
    """Write a round as one act, unless a line of it is refused or the book has all of it already."""
    with open_work(engine, "round", today=today, now=now, reason=given.anyway or None) as work:
        made = _Round(work, given)
        done = RoundDone(made.all_of(answers), written=False)
        count = len(done.of("new")) + len(done.of("doubtful"))
        if count and not done.of("refused"):
            work.commit(f"round of {made.name}: {count} unit{'' if count == 1 else 's'}")
            done.written = True
    return done


class _Round:
    """The steps of a round in an open Work."""

    def __init__(self, work: Work, given: GivenRound) -> None:
        refuse_texts_of(given)
        self.work, self.given = work, given
        self.on = day_given(given.on, work.today)
        self.subject: Subject = subject_of(work.conn, given.measurement, given.point, given.procedure)
        self.limits = Limits(work.conn)
        self.mains = open_book(work.conn).settings.mains_hertz
        self.seen: dict[int, Answer] = {}
        self.told = Instruments(new=given.new_instrument)
        if self.subject.measurement is not None:
            choose_instrument(work, self.subject.measurement, given.instrument, self.told, self.on)

    @property
    def name(self) -> str:
        """What the round is of, in words."""
        procedure, measurement = self.subject.procedure, self.subject.measurement
        return " and ".join(each.name for each in (procedure, measurement) if each is not None)

    def all_of(self, answers: Sequence[Answer]) -> list[Line]:
        """Do every line; one that is refused says why and the others go on."""
        lines = []
        for answer in answers:
            line = Line("new", answer.tag, answer.row, " ".join(filter(None, (answer.value, answer.measured_in))))
            try:
                self._one(answer, line)
            except Expected as refusal:
                line.kind, line.rule, line.hint = "refused", refusal.what, refusal.hint
            lines.append(line)
        return lines

    def _one(self, answer: Answer, line: Line) -> None:
        unit = unit_on(self.work.conn, find_unit(self.work.conn, answer.tag).id, self.on)
        line.tag, line.location = unit.tag, unit.location
        if not answer.value or (self.subject.measurement is None and not _is_done(answer.value)):
            line.kind = "skipped"
            return
        self._refuse_second(unit, answer)
        refuse_texts(value=answer.value, note=answer.note)
        if self.subject.procedure is None:
            self._read(unit, answer, line)
        else:
            self._serve(unit, answer, line)

    def _refuse_second(self, unit: Unit, answer: Answer) -> None:
        first = self.seen.setdefault(unit.id, answer)
        if first is not answer:
            where = f" (row {first.row})" if first.row else ""
            raise Refused(f"{unit.tag} is told twice: {first.value}{where}, and {answer.value}.", "Leave one of them.")

    def _read(self, unit: Unit, answer: Answer, line: Line) -> None:
        given = self._reading(answer)
        held, weighed = self._weigh(unit, given, line)
        if self._has(unit, weighed):
            line.kind, line.rule = "same", "the book has it already"
        else:
            book_reading(self.work, held, given, weighed, BETWEEN, self.on)

    def _weigh(self, unit: Unit, given: GivenReading, line: Line) -> tuple[Held, Weighed]:
        """Return a reading as it would be booked, and note on its line what it says."""
        held = Held(unit, self.limits, self.mains, self.told)
        weighed = weigh_reading(self.work, held, given, self.on)
        measurement, line.point, line.result, line.grade = weighed[:4]
        line.limit = self.limits.on(self.on.isoformat(), unit.id, unit.model_id, measurement.id, line.point)
        before = last_readings(self.work.conn, unit.id)
        line.last = next((one for one in before if one[1:3] == (measurement.id, line.point)), None)
        line.says = verdict(line.grade or line.result or 0.0, line.limit)
        line.measured_in = measurement.measured_in
        if weighed.doubts:
            line.kind, line.rule = "doubtful", "; ".join(rule for _, rule, _ in weighed.doubts)
        return held, weighed

    def _reading(self, answer: Answer) -> GivenReading:
        assert self.subject.measurement is not None  # noqa: S101  asked for only where one is read
        return GivenReading(
            self.subject.measurement.name,
            answer.value,
            self.given.point,
            answer.measured_in,
            self.given.instrument,
            self.given.disk,
            note=answer.note,
        )

    def _serve(self, unit: Unit, answer: Answer, line: Line) -> None:
        assert self.subject.procedure is not None  # noqa: S101  called only where one is done
        readings = (self._reading(answer),) if self.subject.measurement else ()
        weighed = [self._weigh(unit, reading, line)[1] for reading in readings]
        if self._was_done(unit):
            self._have_it(unit, answer, weighed)
            line.kind, line.rule = "same", "the book has it already"
            return
        service = open_service_of(self.work.conn, unit.id)
        told = self._service(answer, readings)
        if service is None:
            bench = start_service(self.work, unit, self.on, told)
        else:
            bench = Bench(unit, service.id, day_in(service, self.on, unit.tag))
        note_words(self.work, bench, told)
        line.notes = note_work(self.work, bench, told)
        if service is None:
            self._finish(bench, told)
        else:
            line.notes.insert(0, f"Added to the service that is open since {service.opened_on}.")

    def _finish(self, bench: Bench, told: GivenService) -> None:
        """Close the service of a unit; what holds it back is said with the options that a round has."""
        try:
            finish_service(self.work, bench, told)
        except Refused as refusal:
            value = "" if self.subject.measurement else "--of MEASUREMENT for its value as left, "
            hint = f'Add {value}--outcome "on the bench", or a reason: --anyway "REASON".'
            raise Refused(refusal.what, hint) from None

    def _have_it(self, unit: Unit, answer: Answer, weighed: Sequence[Weighed]) -> None:
        """Refuse another value than the one with which the book has the procedure of that day."""
        for one in weighed:
            if not self._has(unit, one):
                raise Refused(
                    f"{unit.tag} had {self.given.procedure} that day already, and was not left at {answer.value}.",
                    f"Type: spindlebook reading add {typed(unit.tag)} {typed(one.measurement.name)} {answer.value}"
                    f' --stage "as left" --on {self.on.isoformat()}',
                )

    def _service(self, answer: Answer, readings: tuple[GivenReading, ...]) -> GivenService:
        given = self.given
        return GivenService(
            did=(given.procedure,),
            as_left=readings,
            findings=answer.note,
            outcome=given.outcome,
            new_instrument=given.new_instrument,
            by=given.by,
            by_the_sheet=given.by_the_sheet,
            anyway=given.anyway,
            past_date_anyway=given.past_date_anyway,
        )

    def _has(self, unit: Unit, weighed: Weighed) -> bool:
        """Say whether the book has this reading of that day, from a round of the same kind."""
        stage = BETWEEN if self.subject.procedure is None else "as left"
        day = self.on.isoformat()
        rows = fetch(self.work.conn, _READ_SQL, unit=unit.id, measurement=weighed.measurement.id, day=day, stage=stage)
        return (weighed.point, weighed.instrument.id, weighed.value, weighed.grade) in map(tuple, rows)

    def _was_done(self, unit: Unit) -> bool:
        """Say whether the book has the procedure on this unit that day."""
        assert self.subject.procedure is not None  # noqa: S101  asked for only where one is done
        procedure, day = self.subject.procedure.id, self.on.isoformat()
        return bool(fetch(self.work.conn, _DONE_SQL, unit=unit.id, procedure=procedure, day=day))


def _is_done(value: str) -> bool:
    """Say whether a procedure was done. Raises Refused for another word than yes or no."""
    word = fold(value)
    if word not in (*DONE, *NOT_DONE):
        raise Refused(f'"{value}" does not say whether it was done.', "Type yes or no.")
    return word in DONE
