"""The row of each history, from what was fitted and what is foretold: plain values, None for what cannot be said."""

from __future__ import annotations

from typing import Any

from collection.analysis.drift.words import OWN_LEAST, Known, drift_sentence, rests_on, row_sentence, usual_sentence
from collection.views.drift_columns import Floats, day_text
from collection.views.drift_fit import Fitted
from collection.views.drift_forecast import Forecast
from collection.views.drift_rows import DriftRow

_HALF_DAYS = 2
_PLAIN = (
    "unit", "place", "readings", "segments", "first", "last", "began", "ended", "level_lost", "slope_lost",
)  # fmt: skip
_A_MONTH = 30


class Assembler:
    """Makes rows of one measurement; what numpy holds is turned into plain values once."""

    def __init__(self, one: Fitted, told: Forecast) -> None:
        self.one = one
        self._level, self._slope, self._by = (_columns(each) for each in (told.level, told.slope, told.by))
        self._chance, self._outside = _plain(told.chance_12_months), _plain(told.chance_outside)
        held = one.held
        self._nominal, self._lower, self._upper = (_plain(each) for each in (held.told, held.lower, held.upper))
        self._of: dict[str, list[Any]] = {name: getattr(one.sets, name).tolist() for name in _PLAIN}
        self._of |= {"stray": one.stray.tolist(), "class": held.of_class.tolist()}
        self._of |= {"own": told.own.tolist(), "late": told.late.tolist(), "by_late": told.by_late.tolist()}
        self._tied = one.tied.tolist()
        self._names: dict[bytes, tuple[str, ...]] = {}
        self._has_reference = any(period.reference for period in one.periods)

    def row(self, history: int, by: str, recheck_by: str | None, recheck_rule: str) -> DriftRow:
        """Return the row of a history that is in a unit now."""
        one, of = self.one, self._of
        unit, place = one.units[of["unit"][history]], of["place"][history]
        level, slope, asked = self._level[history], self._slope[history], self._by[history]
        instruments = self._instruments(history)
        readings, stray, segments = of["readings"][history], of["stray"][history], of["segments"][history]
        tied = place >= 0 and self._tied[place]
        return DriftRow(
            unit_id=unit.id,
            tag=unit.tag,
            measurement=one.measured.name,
            point=one.sets.point[history],
            measured_in=one.measured.measured_in,
            class_name=self._class(history),
            standing=unit.standing,
            readings=readings,
            stray=stray,
            segments=segments,
            instruments=instruments,
            first_read=_day(of["first"][history]),
            last_read=_day(of["last"][history]),
            nominal=self._nominal[history],
            lower=self._lower[history],
            upper=self._upper[history],
            corrected=tied,
            level=level[0],
            level_low=level[1],
            level_high=level[2],
            slope_per_year=slope[0],
            slope_low=slope[1],
            slope_high=slope[2],
            chance_12_months=self._chance[history],
            by_date=by,
            by_value=asked[0],
            by_low=asked[1],
            by_high=asked[2],
            chance_outside=self._outside[history],
            recheck_by=recheck_by,
            recheck_rule=recheck_rule,
            sentence=self._sentence(history, readings),
            rests_on=rests_on(readings, stray, segments, instruments, tied=tied),
            missing=self._missing(history, tied=tied),
        )

    def _class(self, history: int) -> str:
        name: str = self.one.held.classes[self._of["class"][history]]
        return name

    def _instruments(self, history: int) -> tuple[str, ...]:
        used = self.one.used[history]
        key = used.tobytes()
        if key not in self._names:
            self._names[key] = tuple(
                dict.fromkeys(period.instrument for period, mine in zip(self.one.periods, used, strict=True) if mine)
            )
        return self._names[key]

    def _span_days(self, history: int) -> int:
        """Return the days from the first to the last used reading of the present segment."""
        days: int = (self._of["ended"][history] - self._of["began"][history]) // _HALF_DAYS
        return days

    def _sentence(self, history: int, readings: int) -> str:
        of, measured_in = self._of, self.one.measured.measured_in
        middle, low, high = self._slope[history]
        slope_lost = of["slope_lost"][history]
        drift = usual = ""
        if middle is not None and low is not None and high is not None:
            if slope_lost:
                usual = usual_sentence(low, high, measured_in, self._class(history))
            else:
                drift = drift_sentence(middle, low, high, of["own"][history], measured_in, self._class(history))
        known = Known(readings, of["late"][history], of["by_late"][history], of["level_lost"][history], slope_lost)
        return row_sentence(known, drift, usual)

    def _missing(self, history: int, *, tied: bool) -> str:
        """Return the one fact that would help most."""
        of = self._of
        if not of["readings"][history]:
            return "a reading"
        if of["level_lost"][history]:
            return "a reading since it was reset"
        if self._lower[history] is None and self._upper[history] is None:
            return "its limits"
        if self._span_days(history) < _A_MONTH or of["own"][history] < OWN_LEAST:
            return "another reading some months after the last"
        if not tied:
            return "a reading with a reference" if self._has_reference else "a reference among the instruments"
        return ""


def _columns(ranges: tuple[Floats, Floats, Floats]) -> list[tuple[float | None, ...]]:
    return list(zip(*(_plain(each) for each in ranges), strict=True))


def _plain(values: Floats) -> list[float | None]:
    """Return numbers as plain values, None for NaN."""
    return [None if value != value else value for value in values.tolist()]  # noqa: PLR0124  only NaN differs


def _day(number: int) -> str:
    return day_text(number) if number else ""
