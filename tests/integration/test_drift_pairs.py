"""Two instruments of a book held against each other, and each with what it is used for."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.errors import Refused
from collection.store.engine import reading
from collection.views.drift_offsets import instrument_drift
from collection.views.drift_pairs import compare
from collection.views.instrument_offsets import as_plain, from_plain, instruments_for_each
from tests.support.shelf import shelf
from tests.support.times import TODAY


def fleet(engine: Engine) -> None:
    """Six drives read on a counter, the reference, and three and eight days later on a strobe that reads 1 % low."""
    with shelf(engine) as made:
        counter, strobe = made.named("instrument", "counter"), made.named("instrument", "strobe")
        speed = made.named("measurement", "spindle speed")
        made.work.insert("instrument_use", instrument_id=counter, measurement_id=speed, reference=1)
        for number in range(1, 7):
            series = made.series(made.unit(f"D{number}"))
            for year in (2023, 2024, 2025):
                true = 300 + 0.1 * ((number * 7 + year * 3) % 5 - 2)
                for day, value, instrument in (
                    ("05-01", true, counter),
                    ("05-04", 0.99 * true, strobe),
                    ("09-01", true, counter),
                    ("09-09", 0.99 * true, strobe),
                ):
                    more = {"stage": "between", "entered": str(value), "instrument_id": instrument}
                    made.work.append("reading", series_id=series, taken_on=f"{year}-{day}", value=value, **more)


def test_pairs_are_those_within_the_window_and_show_the_offset(engine: Engine) -> None:
    """Three days apart makes a pair, eight do not; by name in any case of letters."""
    fleet(engine)
    with reading(engine) as conn:
        found = compare(conn, "Strobe", "COUNTER", TODAY)

    assert 18 == len(found.pairs)
    assert {("2025-05-04", "2025-05-01")} == {
        (pair.a_on, pair.b_on) for pair in found.pairs if pair.a_on.startswith("2025")
    }
    assert found.found is not None
    assert found.shown(found.found.bias) == pytest.approx(-1, abs=0.02)
    assert found.sentence.startswith("strobe reads ")


def test_offsets_stand_with_each_use_and_can_be_kept(engine: Engine) -> None:
    """What was kept comes back the same; an instrument that only readings name has its row too."""
    fleet(engine)
    with reading(engine) as conn:
        drifts = instrument_drift(conn, TODAY)
        rows = {one.row.name: one for one in instruments_for_each(conn, TODAY, drifts) if one.drift}
        with pytest.raises(Refused, match="compared with itself"):
            compare(conn, "strobe", "strobe", TODAY)

    assert drifts == from_plain(as_plain(drifts))
    assert {"counter": True, "strobe": False} == {name: one.reference for name, one in rows.items()}
    assert rows["strobe"].drift is not None
    assert rows["strobe"].drift.offset == pytest.approx(-1, abs=0.02)
