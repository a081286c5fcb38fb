"""The row of each history, from what was fitted and what is foretold: plain values, None for what cannot be said."""

from __future__ import annotations

from collection.analysis.drift.words import OWN_LEAST, Known, drift_sentence, rests_on, row_sentence, usual_sentence
from collection.views.drift_columns import Floats, day_text
from collection.views.drift_fit import Fitted
from collection.views.drift_forecast import Forecast
from collection.views.drift_rows import DriftRow

_HALF_DAYS = 2
_A_MONTH = 30


class Assembler:
    """Makes rows of one measurement; what numpy holds is turned into plain values once."""

    def __init__(self, one: Fitted, told: Forecast) -> None:
        self.one, self._told = one, told
        self._level, self._slope, self._by = (_columns(each) for each in (told.level, told.slope, told.by))
        self._chance, self._outside = _plain(told.chance_12_months), _plain(told.chance_outside)
        held = one.held
        self._nominal, self._lower, self._upper = (_plain(each) for each in (held.told, held.lower, held.upper))
        self._names: dict[bytes, tuple[str, ...]] = {}
        self._has_reference = any(period.reference for period in one.periods)

    def row(self, history: int, by: str, recheck_by: str | None, recheck_rule: str) -> DriftRow:
        """Return the row of a history that is in a unit now."""
        one, sets = self.one, self.one.sets
        unit, place = one.units[sets.unit[history]], int(sets.place[history])
        level, slope, asked = self._level[history], self._slope[history], self._by[history]
        instruments = self._instruments(history)
        readings = int(sets.readings[history])
        tied = place >= 0 and bool(one.tied[place])
        return DriftRow(
            unit_id=unit.id,
            tag=unit.tag,
            measurement=one.measured.name,
            point=sets.point[history],
            measured_in=one.measured.measured_in,
            class_name=self._class(history),
            standing=unit.standing,
            readings=readings,
            stray=int(one.stray[history]),
            segments=int(sets.segments[history]),
            instruments=instruments,
            first_read=_day(int(sets.first[history])),
            last_read=_day(int(sets.last[history])),
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
            rests_on=rests_on(readings, int(one.stray[history]), int(sets.segments[history]), instruments, tied=tied),
            missing=self._missing(history, tied=tied),
        )

    def _class(self, history: int) -> str:
        return self.one.held.classes[int(self.one.held.of_class[history])]

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
        sets = self.one.sets
        return int(sets.ended[history] - sets.began[history]) // _HALF_DAYS

    def _sentence(self, history: int, readings: int) -> str:
        sets, told, measured_in = self.one.sets, self._told, self.one.measured.measured_in
        middle, low, high = self._slope[history]
        drift = usual = ""
        if middle is not None and low is not None and high is not None:
            own = float(told.own[history])
            drift = drift_sentence(middle, low, high, own, measured_in, self._class(history))
            usual = usual_sentence(low, high, measured_in, self._class(history))
        known = Known(
            readings,
            late=bool(told.late[history]),
            by_late=bool(told.by_late[history]),
            level_lost=bool(sets.level_lost[history]),
            slope_lost=bool(sets.slope_lost[history]),
        )
        return row_sentence(known, drift, usual)

    def _missing(self, history: int, *, tied: bool) -> str:
        """Return the one fact that would help most."""
        sets = self.one.sets
        if not sets.readings[history]:
            return "a reading"
        if sets.level_lost[history]:
            return "a reading since it was reset"
        if self._lower[history] is None and self._upper[history] is None:
            return "its limits"
        if self._span_days(history) < _A_MONTH or self._told.own[history] < OWN_LEAST:
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
