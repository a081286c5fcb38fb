"""Results that are slow on a large book, taken from the kept ones while what they rest on stands still."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from collection.cli.face import Face

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.views.drift_rows import InstrumentDrift
    from collection.views.due import Rechecks

# On a smaller book computing takes less time than finding the place of the kept results.
_LARGE = 1_000
_FIT_RESTS_ON = ("equipment", "measurement", "maintenance")


def kept_result(
    face: Face,
    connection: Connection,
    name: str,
    rests_on: Sequence[str],
    more: Sequence[object],
    compute: Callable[[], dict[str, Any]],
    *,
    always: bool = False,
) -> dict[str, Any]:
    """Return what `compute` returns (JSON's own values), from the kept results of a large book where they hold it.

    rests_on: subjects of the book. more: what else the result depends on; the day always counts. always: it takes long
    on a small book too.
    """
    from collection.store.cache import state_key
    from collection.views.counts import how_many_units

    if not always and how_many_units(connection) < _LARGE:
        return compute()
    cache = face.cache(connection)
    key = state_key(connection, rests_on, face.today, *more)
    result: dict[str, Any] | None = cache.load(name, key)
    if result is None:
        result = compute()
        cache.save(name, key, result)
    return result


def kept_rechecks(face: Face, connection: Connection, risk: float) -> Rechecks:
    """Return by unit what is to be read again at an accepted risk, kept or not."""
    from collection.views.recheck import from_plain, is_fitted, plain, recheck_dates

    if not is_fitted(connection):
        return {}
    kept = kept_result(
        face,
        connection,
        "recheck",
        _FIT_RESTS_ON,
        (risk,),
        lambda: plain(recheck_dates(connection, face.today, risk)),
        always=True,
    )
    return from_plain(kept)


def kept_offsets(face: Face, connection: Connection) -> list[InstrumentDrift]:
    """Return how far each instrument reads off, kept or not."""
    from collection.views.instrument_offsets import as_plain, from_plain
    from collection.views.recheck import is_fitted

    if not is_fitted(connection):
        return []

    def compute() -> dict[str, Any]:
        from collection.views.drift_offsets import instrument_drift

        return {"rows": as_plain(instrument_drift(connection, face.today))}

    return from_plain(kept_result(face, connection, "instruments", _FIT_RESTS_ON, (), compute, always=True)["rows"])
