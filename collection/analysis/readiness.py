"""Whether a unit may be called ready: what a service had to measure again, and what it left open."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from collection.analysis.limits import OUT, Verdict
from collection.errors import fold

READY = ("ready", "in use")  # standings in which a unit is relied on


@dataclass(frozen=True, slots=True)
class Retest:
    """A measurement that the procedures done must measure as left; points: those wanted, none for any."""

    measurement: str
    points: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Left:
    """The last as left result of one series, in words, with its limit ("" for none) and what it says."""

    measurement: str
    point: str
    shown: str
    limit: str
    verdict: Verdict

    @property
    def what(self) -> str:
        """The series as a person types it: "rail voltage[+5 V]"."""
        return series_name(self.measurement, self.point)


@dataclass(frozen=True, slots=True)
class Obstacles:
    """Why a unit is not ready: results out of their limits, series that were not measured, open faults."""

    out: tuple[Left, ...]
    missing: tuple[str, ...]
    faults: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.out or self.missing or self.faults)

    @property
    def sentences(self) -> list[str]:
        """Each obstacle in words."""
        said = [
            f"{left.what} as left is {left.shown}" + (f", limit {left.limit}" if left.limit else "")
            for left in self.out
        ]
        said += [f"{name} is missing as left" for name in self.missing]
        return said + [f'fault "{symptom}" is open' for symptom in self.faults]


def obstacles(retests: Iterable[Retest], left: Sequence[Left], open_faults: Iterable[str]) -> Obstacles:
    """Return what stands against calling a unit ready.

    A result exactly on a bound, a marginal one and one without a limit are no obstacles; a second marginal
    one in a row is (its verdict is "fail"). Results that no procedure asked for count as well.
    """
    measured = {(fold(each.measurement), fold(each.point)) for each in left}
    missing = []
    for retest in retests:
        name = fold(retest.measurement)
        if not retest.points and not any(name == measurement for measurement, _ in measured):
            missing.append(retest.measurement)
        missing += [
            series_name(retest.measurement, point) for point in retest.points if (name, fold(point)) not in measured
        ]
    out = tuple(each for each in left if each.verdict in OUT)
    return Obstacles(out, tuple(dict.fromkeys(missing)), tuple(open_faults))


def series_name(measurement: str, point: str) -> str:
    """Return a series as a person types it: "spindle speed", "rail voltage[+5 V]"."""
    return f"{measurement}[{point}]" if point else measurement
