"""What the invented units are really like, and what the club's instruments read of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from collection.analysis.fleet_dice import Dice, day_text, days_from_today
from collection.analysis.fleet_visits import FIRST_DAY, Member, Row, Visit

COUNTER, PROGRAM, STROBE = "bench counter", "drive test program", "hand strobe"
METER = "bench meter and loupe"
OFFSETS = {COUNTER: 0.0, PROGRAM: 0.0, STROBE: -0.9}  # per cent of the speed; the strobe reads low
NOISE = {COUNTER: 0.05, PROGRAM: 0.08, STROBE: 0.10}  # standard deviation, per cent of the speed
SPEED = "spindle speed"
RAILS = {"+5 V": 5.0, "+12 V": 12.0}
YEAR = 365.25

READING_COLUMNS = (
    "tag", "measurement", "point", "taken_on", "instrument", "value", "stage", "service", "measured_in",
    "disk", "supply_unit", "warm_up_minutes", "load", "set_aside", "note",
)  # fmt: skip

_ADJUSTED_BEYOND = 0.4  # per cent; nearer than that nobody takes a screwdriver
_JUMP = (-20, 1.5)  # day and per cent, of the unit that is out of limits
_LOOKED_AT = {"out of limits": -9, "drifting": -15}  # readings outside a service, by role
_LEFT_ALONE = ("drifting", "set wrongly")  # nobody turns these, or there would be nothing to find
_SPEED_WORK = {"check spindle speed", "set spindle speed", "replace belt"}


class Segment(NamedTuple):
    """Between two adjustments: the true error in per cent on day `start`, its slope in per cent a year."""

    start: int
    level: float
    slope: float

    def error(self, day: int) -> float:
        """Return the true error in per cent of nominal (on the scale 100 ln) on a day."""
        return self.level + self.slope * (day - self.start) / YEAR


@dataclass(frozen=True, slots=True)
class _Line:
    """One reading of a visit, before it becomes a row."""

    measurement: str
    value: str
    stage: str = "as found"
    point: str = ""
    instrument: str = METER
    more: Mapping[str, str] = field(default_factory=dict)


class Bench:
    """One unit on the bench: its true state, which services change, and the readings they take.

    segments: the truth about its speed, oldest first, empty for a supply unit. stray: readings (tag and day)
    that a slipping disk spoilt.
    """

    def __init__(self, member: Member, pairings: Sequence[Row], dice: Dice) -> None:
        self.member, self.dice = member, dice
        self.pairings = [row for row in pairings if row["drive"] == member.tag]
        self.segments = [self._fresh(FIRST_DAY - 100)] if member.kind == "drive" else []
        self.stray: list[tuple[str, int]] = []
        self.radial = {f"head {head} track 16": dice.normal(0, 6) for head in (0, 1)}
        self.rails = {point: dice.normal(0.3, 0.8) for point in RAILS}
        self.ripple = {"+5 V": dice.normal(28, 5), "+12 V": dice.normal(55, 8)}
        self.jumped = member.role != "out of limits"

    def read(self, visit: Visit, service: str) -> tuple[Visit, list[Row]]:
        """Return the visit, with the adjustment it turned out to need, and its readings in order."""
        lines = [*self._looks(visit), *self._alignment(visit), *self._supply(visit)]
        if self.member.kind == "drive" and _SPEED_WORK & set(visit.procedures):
            visit, speeds = self._speeds(visit)
            lines += speeds
        lines.sort(key=lambda line: line.stage)  # "as found" before "as left", otherwise in order of work
        return visit, [self._row(line, self._day(line, visit), service) for line in lines]

    def between(self) -> list[Row]:
        """Return the reading that somebody took outside any service, where there is one."""
        day = _LOOKED_AT.get(self.member.role)
        if day is None:
            return []
        line = self._measured(COUNTER, "between", day, self.error(day))
        return [self._row(line, day, "")]

    def error(self, day: int) -> float:
        """Return the true speed error in per cent on a day not before the last one asked for."""
        if not self.jumped and day >= _JUMP[0]:
            self.jumped = True
            self._begin(_JUMP[0], self.segments[-1].error(_JUMP[0]) + _JUMP[1])
        return self.segments[-1].error(day)

    # --- speed

    def _fresh(self, day: int) -> Segment:
        """Return the state of a unit with a new belt, or as its maker left it."""
        dice, drive_type = self.dice, self.member.drive_type
        if self.member.role == "drifting":
            return Segment(day, 0.45, -0.55)
        if drive_type == "belt":
            return Segment(day, dice.normal(0.1, 0.2), dice.normal(-0.25, 0.05))
        if drive_type == "direct adjustable":
            return Segment(day, dice.normal(0.0, 0.2), dice.normal(0.04, 0.03))
        return Segment(day, dice.normal(0.0, 0.02), 0.0)

    def _begin(self, day: int, level: float) -> None:
        self.segments.append(Segment(day, level, self.segments[-1].slope))

    def _speeds(self, visit: Visit) -> tuple[Visit, list[_Line]]:
        """Read the speed as found, renew and set what is to be, and read it as left."""
        day, dice = visit.opened, self.dice
        instrument = visit.special.get("instrument") or self._instrument()
        found = self._measured(instrument, "as found", day, self.error(day))
        lines = [*self._slipping(instrument, day), found]
        if dice.chance(0.35):
            other = STROBE if instrument != STROBE else COUNTER
            lines.append(self._measured(other, "as found", day, self.error(day)))
        if "replace belt" in visit.procedures:
            self.segments.append(self._fresh(day))
        visit, instrument = self._set(visit, instrument)
        closed = day if visit.closed is None else visit.closed
        lines.append(self._measured(instrument, "as left", closed, self.error(closed)))
        return visit, lines

    def _set(self, visit: Visit, instrument: str) -> tuple[Visit, str]:
        """Set the speed where that was asked for, or on the counter where the unit is too far off."""
        day, name = visit.opened, "set spindle speed"
        left_alone = not self.member.adjustable or self.member.role in _LEFT_ALONE
        if name not in visit.procedures:
            if left_alone or abs(self.error(day)) < _ADJUSTED_BEYOND:
                return visit, instrument
            visit, instrument = replace(visit, procedures=(*visit.procedures, name)), COUNTER
        self._begin(day, -OFFSETS[instrument] + self.dice.normal(0, 0.03))
        return visit, instrument

    def _instrument(self) -> str:
        return self.dice.pick((COUNTER, COUNTER, COUNTER, PROGRAM, PROGRAM, STROBE))

    def _slipping(self, instrument: str, day: int) -> list[_Line]:
        """Return, now and then, a reading spoilt by a slipping disk; most are set aside once seen."""
        if not self.dice.chance(0.05):
            return []
        self.stray.append((self.member.tag, day))
        line = self._measured(instrument, "as found", day, self.error(day) - self.dice.whole(30, 45) / 10)
        aside = {"set_aside": "disk slipped in its hub, read again"} if self.dice.chance(0.7) else {}
        return [replace(line, more={**line.more, **aside})]

    def _measured(self, instrument: str, stage: str, day: int, error: float) -> _Line:
        """Return what an instrument shows: r/min, or the index period in ms from the program."""
        shown = self.dice.normal(error + OFFSETS[instrument], NOISE[instrument])
        speed = self.member.nominal * math.exp(shown / 100)
        more = {
            "disk": f"work disk {self.dice.whole(1, 4)}",
            "supply_unit": self._supply_unit(day),
            "warm_up_minutes": str(self.dice.pick((10, 10, 15, 20))),
        }
        if instrument == PROGRAM:
            return _Line(SPEED, f"{60000 / speed:.2f}", stage, "", instrument, {**more, "measured_in": "ms"})
        value = f"{round(speed * 2) / 2:.1f}" if instrument == STROBE else f"{speed:.1f}"
        return _Line(SPEED, value, stage, "", instrument, more)

    def _supply_unit(self, day: int) -> str:
        """Return the supply unit that feeds the drive on a day, empty if the bench supply did."""
        for row in self.pairings:
            ends = days_from_today(row["to_date"]) if row["to_date"] else 0
            if days_from_today(row["from_date"]) <= day < ends:
                return row["supply_unit"]
        return ""

    # --- everything else

    def _looks(self, visit: Visit) -> Iterator[_Line]:
        """Yield the grades given by eye."""
        dice, work = self.dice, visit.procedures
        if "arrival check" in work:
            yield _Line("electrical safety", "pass", "as left")
        if "visual check of capacitors" in work:
            yield _Line("visual condition of capacitors", "pass", "as left")
        if "clean head" in work:
            dirty = "fault" in visit.reason or dice.chance(0.25)
            yield _Line("head condition", "marginal" if dirty else "pass")
            yield _Line("head condition", "pass", "as left")
        if "replace belt" in work:
            yield _Line("belt condition", dice.pick(("marginal", "fail")))
            yield _Line("belt condition", "pass", "as left")
        elif visit.reason == "yearly service" and self.member.drive_type == "belt":
            yield _Line("belt condition", "pass")

    def _alignment(self, visit: Visit) -> Iterator[_Line]:
        """Yield radial alignment on yearly services, and all that aligning the head asks for."""
        aligned = "align head" in visit.procedures
        yearly = visit.reason == "yearly service" and self.member.media == "130 mm"
        if not (aligned or yearly):
            return
        shift = 60 if aligned else 0  # a carriage that was shaken on the road
        for point in self.radial:
            yield self._radial(point, "as found", shift)
        if yearly:
            yield _Line("read errors", str(self.dice.pick((0, 0, 0, 1))), instrument=PROGRAM)
        if aligned:
            yield from self._aligned()

    def _aligned(self) -> Iterator[_Line]:
        for point in self.radial:
            self.radial[point] = self.dice.normal(0, 4)
            yield self._radial(point, "as left", 0)
        for head in ("head 0", "head 1"):
            yield _Line("azimuth", "marginal", "as found", head, PROGRAM)
            yield _Line("azimuth", "pass", "as left", head, PROGRAM)
        yield _Line("index timing", str(self.dice.whole(210, 260)), "as found", "head 0", COUNTER)
        yield _Line("index timing", str(self.dice.whole(196, 204)), "as left", "head 0", COUNTER)
        yield _Line("track-zero stop", "0.2", "as found")
        yield _Line("track-zero stop", "0.25", "as left")

    def _radial(self, point: str, stage: str, shift: int) -> _Line:
        value = round(self.dice.normal(self.radial[point] + shift, 2))
        return _Line("radial alignment", str(value), stage, point, PROGRAM, {"disk": "alignment disk 1"})

    def _supply(self, visit: Visit) -> Iterator[_Line]:
        """Yield rails and ripple of a supply unit under its dummy load."""
        if "rail and ripple check" not in visit.procedures:
            return
        repaired = bool(visit.special)
        for stage in ("as found", "as left"):
            tired = 4 if repaired and stage == "as found" else 1  # a dried-out filter capacitor
            for point, nominal in RAILS.items():
                off = self.dice.normal(self.rails[point], 0.1)
                yield self._loaded("rail voltage", f"{nominal * math.exp(off / 100):.2f}", stage, point)
                ripple = round(self.dice.normal(self.ripple[point] * tired, 2))
                yield self._loaded("ripple", str(ripple), stage, point)
        yield self._loaded("surface temperature", f"{self.dice.normal(41, 2):.1f}", "as found", "heat sink")

    def _loaded(self, measurement: str, value: str, stage: str, point: str) -> _Line:
        more = {"warm_up_minutes": "30" if point == "heat sink" else "10", "load": "dummy load 1.5 A"}
        return _Line(measurement, value, stage, point, METER, more)

    def _day(self, line: _Line, visit: Visit) -> int:
        closed = visit.opened if visit.closed is None else visit.closed
        return closed if line.stage == "as left" else visit.opened

    def _row(self, line: _Line, day: int, service: str) -> Row:
        row = dict.fromkeys(READING_COLUMNS, "")
        row |= {
            "tag": self.member.tag,
            "measurement": line.measurement,
            "point": line.point,
            "taken_on": day_text(day),
            "instrument": line.instrument,
            "value": line.value,
            "stage": line.stage,
            "service": service,
            **line.more,
        }
        return row
