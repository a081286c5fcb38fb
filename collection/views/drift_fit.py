"""The fit of each measurement with what names its parts: all that rows are made of, and no readings any more."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import numpy as np
from sqlalchemy.engine import Connection

from collection.analysis.drift.compare import groups_of
from collection.analysis.drift.fit import fit_by, fit_fleet, is_large, settle_shared
from collection.analysis.drift.found import Classes, Found, Instruments, Paths
from collection.analysis.drift.given import Fleet
from collection.analysis.drift.links import shared_segments
from collection.analysis.drift.summary import Shared
from collection.views.drift_columns import Bools, Floats, Ints
from collection.views.drift_fleet import EPOCH, Sets
from collection.views.drift_instruments import Period
from collection.views.drift_readings import Gathered, gather
from collection.views.drift_series import Held, Measured
from collection.views.units import Unit

_SUSPECTED = 0.5  # a reading more likely stray than not
_EPOCH_DAY = date(1970, 1, 1).toordinal() + EPOCH // 2


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """What a fit found of one measurement.

    units: in the order of their tags, to which `sets.unit` points. sets, held: of each history. paths, own, tied (to
    a reference): of each series of the fleet, to which `sets.place` points. of_class: the class of each history in
    `classes`, -1 where no reading of that class is used. stray: of each history, how many of its used readings are
    suspected of being stray. apart: of each history, the standard uncertainty of the reference that it is tied to,
    on the scale. periods name the instruments, offsets tell of them; direct: in how many segments two of them were
    read; read: how many readings of each are used. used (histories, instruments): which read it.
    """

    measured: Measured
    units: tuple[Unit, ...]
    sets: Sets
    held: Held
    paths: Paths
    own: Floats
    tied: Bools
    of_class: Ints
    classes: Classes
    stray: Ints
    apart: Floats
    periods: tuple[Period, ...]
    offsets: Instruments
    direct: Ints
    read: Ints
    used: Bools


def fitted(conn: Connection, today: date, only: Collection[int] | None = None) -> list[Fitted]:
    """Return the fit of every measurement of a unit of measure that has a reading, by name, or of some of them."""
    return [fit(one)[0] for one in gather(conn, today, only)]


def fit(one: Gathered) -> tuple[Fitted, Found]:
    """Fit one measurement."""
    fitted_one, found, _ = fit_settled(one)
    return fitted_one, found


def fit_settled(one: Gathered) -> tuple[Fitted, Found, Shared | None]:
    """Fit one measurement; return with it what a large fleet shares.

    None of a small fleet, and where a reading of today could change it.

    Of a large fleet what is shared is settled by the readings before the present quarter of the year, so that from
    day to day a new reading changes its own series alone.
    """
    if is_large(one.fleet):
        shared, alone = settle_shared(one.fleet, groups_of(one.fleet), years_of(quarter_of(one.today)))
        found = fit_by(one.fleet, shared)
        return fitted_of(one, found), found, shared if alone else None
    found = fit_fleet(one.fleet)
    return fitted_of(one, found), found, None


def quarter_of(day: date) -> date:
    """Return the first day of the quarter of a year in which a day lies."""
    return date(day.year, (day.month - 1) // 3 * 3 + 1, 1)


def years_of(day: date) -> float:
    """Return a day as the fit counts time."""
    return (day.toordinal() - _EPOCH_DAY) / 365.25


def fitted_of(one: Gathered, found: Found) -> Fitted:
    """Return what is kept of a fit."""
    sets, fleet, held = one.sets, one.fleet, one.held
    in_use = one.use.in_fleet >= 0
    history, into = one.use.history[in_use], one.use.in_fleet[in_use]
    many = len(sets.place)
    stray = np.bincount(history[found.stray[into] > _SUSPECTED], minlength=many)
    used = np.zeros((many, fleet.instruments), dtype=bool)
    used[history, fleet.instrument[into]] = True
    of_class = np.full(len(held.classes), -1)
    seen = sets.place >= 0
    of_class[held.of_class[seen]] = fleet.series_class[sets.place[seen]]
    return Fitted(
        measured=one.measured,
        units=one.units,
        sets=sets,
        held=held,
        paths=found.paths,
        own=found.own,
        tied=found.corrected_series,
        of_class=of_class[held.of_class],
        classes=found.classes,
        stray=stray,
        apart=np.where(sets.instrument >= 0, _reference_apart(fleet, found)[sets.instrument], 0.0),
        periods=one.instruments,
        offsets=found.instruments,
        direct=shared_segments(fleet.segment, fleet.instrument, fleet.instruments),
        read=np.bincount(fleet.instrument[into], minlength=fleet.instruments),
        used=used,
    )


def _reference_apart(fleet: Fleet, found: Found) -> Floats:
    """Return for each instrument the uncertainty of the references of its group, the greatest one; 0 for none."""
    apart = np.zeros(fleet.instruments)
    for place in np.flatnonzero(fleet.reference).tolist():
        same = found.instruments.group == found.instruments.group[place]
        apart[same] = np.maximum(apart[same], fleet.uncertainty[place])
    return apart if len(apart) else np.zeros(1)
