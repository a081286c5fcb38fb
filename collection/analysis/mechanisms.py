"""Which mechanism sat in which unit, and when: what a mechanism takes along when it is swapped.

A mechanism is known by where it was born: the unit it came in, or itself where it is kept as a unit of its own. One
out of a lot, or of which nobody knows where it came from, begins with the row that fitted it. Readings stay with the
unit in which they were taken; where their mechanism was on that day says whose history they are. So an entry that
comes late, a corrected day or an undo needs nothing to be written again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

MECHANISM = "mechanism"
# What is measured on the mechanism and goes where it goes: motor, belt and trimmer make the speed; rails, stop, heads
# and index sensor the rest. Read errors, rails and temperatures stay with the unit: board and supply make them too.
# Common practice, no source. Named by the seed keys of the reference data, since a user may rename them.
GOES_ALONG = (
    "measurement-spindle-speed",
    "measurement-radial-alignment",
    "measurement-azimuth",
    "measurement-track-zero-stop",
    "measurement-index-timing",
    "measurement-head-condition",
    "measurement-belt-condition",
)


class Fitting(NamedTuple):
    """A mechanism that was fitted into a unit, days as ISO texts.

    donor: the unit out of which it was taken. itself: the unit whose own mechanism it is, which may lie loose or be
    a unit of the kind mechanism; both 0 where it is new. removed_on: "" while it is fitted.
    """

    row: int
    unit: int
    fitted_on: str
    removed_on: str
    donor: int
    itself: int


class Span(NamedTuple):
    """A time that a mechanism spent in a unit; since and until are days, "" for open ends.

    emptied: nothing took its place at the end, so the whole last day is its own.
    """

    unit_id: int
    since: str
    until: str
    emptied: bool = False

    def holds(self, day: str, stage: str) -> bool:
        """Say whether a reading is of this time.

        On the day of a swap what was read as found is still of the former mechanism, all else of the new one.
        """
        before = stage == "as found"
        begun = day > self.since or (day == self.since and not before)
        return begun and (not self.until or day < self.until or (day == self.until and (before or self.emptied)))


class _Sits(NamedTuple):
    """What sits in a unit: the row that fitted it, since when and until when as that row tells."""

    mechanism: int | None
    row: int
    since: str
    until: str = ""


@dataclass(slots=True)
class Mechanisms:
    """The mechanisms that ever moved; a mechanism is the id of its unit, or below 0 that of the row that fitted it."""

    spans: dict[int, list[Span]] = field(default_factory=lambda: defaultdict(list))
    _in_unit: dict[int, _Sits] = field(default_factory=dict)

    @property
    def touched(self) -> Collection[int]:
        """The units that gave or got a mechanism."""
        return self._in_unit.keys()

    def now_in(self, unit_id: int) -> int | None:
        """Return the mechanism that sits in a unit; None where it was taken out."""
        return self._sits(unit_id).mechanism

    def fitted_on(self, unit_id: int) -> str:
        """Return since when the present mechanism has sat in a unit, "" where it was born there."""
        return self._sits(unit_id).since

    def history_of(self, unit_id: int) -> tuple[Span, ...]:
        """Return where the mechanism that is in a unit now has been, the earliest first; nothing without one."""
        now = self._sits(unit_id).mechanism
        return () if now is None else tuple(self.spans.get(now, ())) or (Span(unit_id, "", ""),)

    def at(self, unit_id: int, day: str, stage: str) -> int | None:
        """Return the mechanism that a reading of a unit was taken of."""
        if unit_id not in self._in_unit:
            return unit_id
        for mechanism, spans in self.spans.items():
            if any(span.unit_id == unit_id and span.holds(day, stage) for span in spans):
                return mechanism
        return None

    def home_of(self, mechanism: int) -> int | None:
        """Return the unit in which a mechanism sits, None while it lies loose."""
        for unit_id, sits in self._in_unit.items():
            if sits.mechanism == mechanism:
                return unit_id
        return mechanism if mechanism > 0 and mechanism not in self._in_unit else None

    def swapped(self, donor: int, unit_id: int, day: str) -> bool:
        """Say whether a donor got the mechanism of a unit on that very day, so that its own is free for the unit."""
        mechanism, _, since, _ = self._sits(donor)
        came = self.spans.get(mechanism, ()) if mechanism is not None and since == day else ()
        return self.home_of(donor) is None and any(span.unit_id == unit_id and span.until == day for span in came)

    def _sits(self, unit_id: int) -> _Sits:
        return self._in_unit.get(unit_id, _Sits(unit_id, 0, ""))

    def _leave(self, unit_id: int, day: str, *, emptied: bool) -> int | None:
        """Let the mechanism of a unit come out on a day."""
        mechanism, _, since, _ = self._sits(unit_id)
        if mechanism is not None:
            self.spans[mechanism].append(Span(unit_id, since, day, emptied))
        self._in_unit[unit_id] = _Sits(None, 0, day)
        return mechanism

    def _enter(self, unit_id: int, mechanism: int, row: int, day: str, until: str = "") -> int | None:
        """Let a mechanism go in; return the one that comes out for it."""
        former = self._leave(unit_id, day, emptied=False)
        self._in_unit[unit_id] = _Sits(mechanism, row, day, until)
        return former

    def _fit(self, fitting: Fitting) -> int | None:
        """Work through one fitting; return the mechanism that lies loose after it."""
        unit, day = fitting.unit, fitting.fitted_on
        mechanism = self._meant_by(fitting)
        home = self.home_of(mechanism)
        if home == unit:  # it is there already: the row tells since when, or who took it out
            self._in_unit[unit] = self._sits(unit)._replace(row=fitting.row, until=fitting.removed_on)
            return None
        if home is not None:
            self._leave(home, day, emptied=True)
        return self._enter(unit, mechanism, fitting.row, day, fitting.removed_on)

    def _meant_by(self, fitting: Fitting) -> int:
        if fitting.itself or fitting.donor == fitting.unit:
            return fitting.itself or fitting.donor
        if not fitting.donor:
            return -fitting.row
        mechanism, row, _, until = self._sits(fitting.donor)
        if row and (not until or until > fitting.fitted_on):  # that one stayed: the own one, which lay loose, was taken
            mechanism = fitting.donor if self.home_of(fitting.donor) is None else None
        return -fitting.row if mechanism is None else mechanism

    def follow(self, fittings: Iterable[Fitting], units_of_their_own: Collection[int]) -> None:
        """Work through all fittings by day, then close with what sits where now."""
        for day, fitting, fits in _in_order(fittings):
            if fits:
                loose = self._fit(fitting)
            elif self._sits(fitting.unit).row == fitting.row:
                loose = self._leave(fitting.unit, day, emptied=True)
            else:  # another took its place, or it was taken out for another unit
                continue
            if loose is not None and loose in units_of_their_own:
                self._enter(loose, loose, 0, day)
        for unit_id, sits in self._in_unit.items():
            if sits.mechanism is not None:
                self.spans[sits.mechanism].append(Span(unit_id, sits.since, ""))
        for spans in self.spans.values():
            spans.sort(key=lambda span: (span.since, span.until or "~"))


def mechanisms_of(fittings: Iterable[Fitting], units_of_their_own: Collection[int] = ()) -> Mechanisms:
    """Return where every mechanism has been, from all fittings that count, in whatever order they were entered.

    units_of_their_own: those of the kind mechanism, which are themselves again when they come out of a drive.
    Taking out what is not there any more yields a mechanism without a history, never that of another.
    """
    made = Mechanisms()
    made.follow(fittings, units_of_their_own)
    return made


def _in_order(fittings: Iterable[Fitting]) -> Iterator[tuple[str, Fitting, bool]]:
    """Yield what happened by day; inside a day fittings go before removals, which they may have caused."""
    events = []
    for each in fittings:
        events.append((each.fitted_on, 0, each.row, each))
        if each.removed_on:
            events.append((each.removed_on, 1, each.row, each))
    for day, removed, _, each in sorted(events, key=lambda event: event[:3]):
        yield day, each, not removed
