"""Which instrument a reading is booked under, and the eye that grades what has no scale."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from collection.acts.work import Work
from collection.analysis.measures import GRADED
from collection.errors import Refused, fold
from collection.store.engine import fetch
from collection.views.fitness import Fitness, fitness_of
from collection.views.measuring import (
    Instrument,
    Measurement,
    find_instrument,
    instruments_for,
    unknown_instrument,
)

EYE = "by eye"


@dataclass(frozen=True, slots=True)
class Instruments:
    """The instruments named for a whole service; `new` lets a name that the book does not have be added."""

    names: tuple[str, ...] = ()
    new: bool = False


def choose_instrument(work: Work, measurement: Measurement, named: str, told: Instruments, on: date) -> Instrument:
    """Return the instrument of a reading of a day.

    It is the one named with the reading, else one named for the service, else the only one that the book uses
    for the measurement; a grade for which none is named is given by eye. Raises Refused where none is named
    and several or none would do, for an unknown name, and for one that was retired before that day.
    """
    if named:
        return _get(work, measurement, named, told.new, on)
    users = [each for each in instruments_for(work.conn, measurement) if not _fitness(work, each, on).gone]
    mine = [_get(work, measurement, name, told.new, on) for name in told.names]
    fitting = [each for each in mine if each in users]
    if fitting:
        return fitting[0]
    if mine and not measurement.graded:
        return mine[0]
    if len(users) == 1 and not mine:
        return users[0]
    if measurement.graded:
        return next((each for each in users if fold(each.name) == fold(EYE)), None) or bring_in_eye(work)
    raise which_instrument(measurement, users)


def bring_in_eye(work: Work) -> Instrument:
    """Return the instrument "by eye", written with its use for every graded measurement if it is new."""
    found = find_instrument(work.conn, EYE)
    if found is not None:
        return found
    graded = fetch(work.conn, "SELECT id FROM measurement WHERE measured_in = :graded AND void = 0", graded=GRADED)
    return _add(work, EYE, [row[0] for row in graded], kind="eye")


def failed_check(work: Work, instrument: Instrument, on: date) -> str | None:
    """Return what is doubtful about a reading of a day that was taken with an instrument, or None."""
    return _fitness(work, instrument, on).doubt


def _fitness(work: Work, instrument: Instrument, on: date) -> Fitness:
    return fitness_of(work.conn, "instrument", instrument.name, on)


def _get(work: Work, measurement: Measurement, name: str, new: bool, on: date) -> Instrument:
    found = find_instrument(work.conn, name)
    if found is not None:
        _fitness(work, found, on).refuse_gone("Name another with --instrument; see: spindlebook instrument list")
        return found
    if not new or not name.strip():
        raise unknown_instrument(work.conn, name)
    return _add(work, name.strip(), [measurement.id], kind=None)


def _add(work: Work, name: str, measurement_ids: list[int], kind: str | None) -> Instrument:
    instrument_id = work.insert("instrument", name=name, name_folded=fold(name), kind=kind)
    for measurement_id in measurement_ids:
        work.insert("instrument_use", instrument_id=instrument_id, measurement_id=measurement_id, reference=0)
    return Instrument(instrument_id, name)


def which_instrument(measurement: Measurement, users: list[Instrument]) -> Refused:
    """Return the refusal of a reading for which none is named, and several or none would do."""
    says = f'"{measurement.name}" was read with no instrument named'
    if users:
        names = ", ".join(each.name for each in users)
        return Refused(f"{says}, and several are used for it: {names}.", "Name it: --instrument NAME.")
    return Refused(f"{says}, and the book knows none for it.", "Name it: --instrument NAME --new-instrument.")
