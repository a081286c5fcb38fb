"""A few new readings renew the rows of their own series, and the rest stays as it was kept."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.analysis.drift import fit
from collection.store.engine import reading
from collection.views.drift_keep import Parts, drift_parts, from_plain, plain, renewed
from tests.integration.test_drift_view import LIMITS, read
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

RISK = 0.1


@pytest.fixture
def kept(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> Parts:
    """Return what is kept of a dozen drives that count as a large fleet, read up to last year."""
    monkeypatch.setattr(fit, "_TOGETHER", 8)
    with shelf(engine) as made:
        speed = made.named("measurement", "spindle speed")
        for name, reference in (("counter", 1), ("strobe", 0)):
            instrument = made.named("instrument", name)
            made.work.insert("instrument_use", instrument_id=instrument, measurement_id=speed, reference=reference)
        for number in range(1, 13):
            series = made.series(made.unit(f"D{number}"))
            for half in range(6):
                true = 299.5 - 0.1 * number * half + 0.1 * ((number * 7 + half * 3) % 5 - 2)
                read(made, series, f"{2022 + half // 2}-{'02' if half % 2 == 0 else '08'}-01", true)
                read(made, series, f"{2022 + half // 2}-{'02' if half % 2 == 0 else '08'}-01", 0.99 * true, "strobe")
    with reading(engine) as conn:
        return drift_parts(conn, TODAY, None, None, RISK)


def test_a_new_reading_renews_its_own_row_to_what_a_new_fit_gives(engine: Engine, kept: Parts) -> None:
    """Bit for bit, and no other row is touched; what is kept comes back from JSON as it was."""
    with shelf(engine) as made:
        read(made, made.series(_unit(made, "D3")), "2026-02-20", 297.9, "strobe")
    settled = [from_plain(plain(one)) for one in kept.settled]
    assert settled

    with reading(engine) as conn:
        told = renewed(conn, TODAY, None, RISK, settled, kept.act)
        anew = drift_parts(conn, TODAY, None, None, RISK)

    assert told is not None
    assert ["D3"] == [row.tag for row in told[0]]
    assert [row for row in anew.rows if row.tag == "D3"] == told[0]
    assert [row for row in anew.rows if row.tag != "D3"] == [row for row in kept.rows if row.tag != "D3"]
    assert anew.act == told[1]


def _service(made: Shelf) -> None:
    made.service(_unit(made, "D4"), "2026-02-20", "set spindle speed")


def _of_before(made: Shelf) -> None:
    read(made, made.series(_unit(made, "D4")), "2025-12-31", 299.0)


def _limit(made: Shelf) -> None:
    speed = made.named("measurement", "spindle speed")
    made.work.insert("limit_range", measurement_id=speed, point="", **LIMITS)


def _new_instrument(made: Shelf) -> None:
    read(made, made.series(_unit(made, "D4")), "2026-02-20", 299.0, "borrowed counter")


def _new_unit(made: Shelf) -> None:
    read(made, made.series(made.unit("D99")), "2026-02-20", 299.0)


@pytest.mark.parametrize("change", [_service, _of_before, _limit, _new_instrument, _new_unit])
def test_whatever_else_is_written_asks_for_a_new_fit(
    engine: Engine, kept: Parts, change: Callable[[Shelf], None]
) -> None:
    """A service, a reading of before this quarter, a limit, an instrument or a unit that the fit has not seen."""
    with shelf(engine) as made:
        change(made)

    with reading(engine) as conn:
        assert renewed(conn, TODAY, None, RISK, kept.settled, kept.act) is None


@pytest.mark.parametrize("undone", [True, False])
def test_a_reading_that_was_undone_or_set_aside_asks_for_a_new_fit(engine: Engine, kept: Parts, undone: bool) -> None:
    """It changes what was kept with it; alone, one of the first day of the quarter renews its row."""
    with shelf(engine) as made:
        number = read(made, made.series(_unit(made, "D3")), "2026-01-01", 297.9, "strobe")
    with reading(engine) as conn:
        assert renewed(conn, TODAY, None, RISK, kept.settled, kept.act) is not None
        then = drift_parts(conn, TODAY, None, None, RISK)
    if undone:
        undo(engine, None, today=TODAY, now=NOW)
    else:
        with shelf(engine) as made:
            made.set_aside(number)

    with reading(engine) as conn:
        assert renewed(conn, TODAY, None, RISK, then.settled, then.act) is None


def _unit(made: Shelf, tag: str) -> int:
    from collection.views.units import find_unit

    return find_unit(made.work.conn, tag).id
