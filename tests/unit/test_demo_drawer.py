"""The demo's drawer: uses within their lots, and the lots, orders and parts it is there to show."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest

from collection.analysis.fleet import Tables
from collection.analysis.months import add_months
from collection.store.seed import reference_rows
from tests.support.demo import DEMO_DAY, all_supplies, demo, left_in_lots, listed, texts_in


@pytest.fixture(scope="module")
def tables() -> Tables:
    """The demo's rows on a fixed day."""
    return demo()[0]


def test_uses_never_exceed_their_lot_on_any_day(tables: Tables) -> None:
    """Received less used, discarded and returned stays at zero or more, with every count on the way."""
    left = left_in_lots(tables)

    assert len(left) == len(tables["lots.csv"])
    assert any(amount > 0 for amount in left.values())


def test_counts_find_no_more_than_the_book_and_share_no_day_with_a_use(tables: Tables) -> None:
    """A count explains what dried up, never what appeared; on a day of uses it would leave open which came first."""
    used = texts_in(tables, "uses.csv", "used_on")
    left_in_lots(tables)

    assert len(texts_in(tables, "counts.csv", "counted_on")) == 3
    assert used.isdisjoint(texts_in(tables, "counts.csv", "counted_on"))


def test_nothing_is_used_past_its_day(tables: Tables) -> None:
    """Neither past the printed expiry nor past the open life that the supply has once opened."""
    supplies = all_supplies(tables)
    lots = {(row["supply"], row["lot"]): row for row in tables["lots.csv"]}
    for row in tables["uses.csv"]:
        if row["what"] not in ("", "use"):
            continue
        lot, months = lots[row["supply"], row["lot"]], supplies[row["supply"]]["open_life_months"]
        assert not lot["expires_on"] or row["used_on"] <= lot["expires_on"]
        if months:
            end = add_months(date.fromisoformat(lot["opened_on"]), int(months))
            assert lot["opened_on"] <= row["used_on"] <= end.isoformat()


def test_the_drawer_has_one_lot_past_its_date_one_opened_and_one_low(tables: Tables) -> None:
    """Grease past its date, alcohol opened and good, swabs for fewer than a year's services."""
    left, today = left_in_lots(tables), DEMO_DAY.isoformat()
    lots = [row for row in tables["lots.csv"] if left[row["supply"], row["lot"]] > 0]
    past = [row["supply"] for row in lots if row["expires_on"] and row["expires_on"] < today]
    opened = [row["supply"] for row in lots if row["opened_on"] and row["expires_on"] >= today]
    year = (DEMO_DAY - timedelta(days=365)).isoformat()
    swabs = [row for row in tables["uses.csv"] if row["supply"].startswith("foam swab")]
    last_year = sum(int(row["quantity"]) for row in swabs if row["used_on"] > year)
    swabs_left = sum(amount for (supply, _), amount in left.items() if supply.startswith("foam swab"))

    assert past == ["rail grease, lithium NLGI 2"]
    assert "isopropyl alcohol 99 %" in opened
    assert 0 < swabs_left < last_year / 2


def test_the_swabs_last_for_the_overdue_drive_but_not_for_the_next_one_due(tables: Tables) -> None:
    """By the sheets a yearly service takes 5 swabs, and re-lubing the rails of the next drive due 3 more."""
    sheet = {row["procedure"]: int(row["quantity"]) for row in reference_rows("amounts") if "swab" in row["supply"]}
    yearly = sheet["clean head"] + sheet["clean and re-lube rails"]
    left = sum(amount for (supply, _), amount in left_in_lots(tables).items() if "swab" in supply)

    assert yearly <= left < yearly + sheet["clean and re-lube rails"]


def test_one_wish_could_not_be_met_and_its_order_is_under_way(tables: Tables) -> None:
    """A short belt in the book, none on the shelf, and one order placed and neither arrived nor cancelled."""
    short = [row for row in tables["uses.csv"] if row["what"] == "short"]
    open_orders = [row for row in tables["orders.csv"] if not row["arrived_on"] and not row["cancelled_on"]]
    left = left_in_lots(tables)

    assert [row["supply"] for row in short] == ["belt DM 8, 118 x 6 x 0.8 mm"]
    assert sum(amount for (supply, _), amount in left.items() if supply == short[0]["supply"]) == 0
    assert short[0]["supply"] in [row["supply"] for row in open_orders]
    assert {row["what"] for row in tables["uses.csv"]} >= {"", "discard", "return"}


def test_arrived_orders_brought_their_lots(tables: Tables) -> None:
    """Packs that arrived times what is in a pack is the quantity of the lot received that day."""
    packs = {(row["supplier"], row["supply"]): Decimal(row["pack_quantity"]) for row in tables["offers.csv"]}
    lots = {(row["supply"], row["received_on"]): Decimal(row["quantity"]) for row in tables["lots.csv"]}
    arrived = [row for row in tables["orders.csv"] if row["arrived_on"]]

    assert len(arrived) >= 5
    for row in arrived:
        size = min(
            (size for (who, what), size in packs.items() if (who, what) == (row["supplier"], row["supply"])),
        )
        assert lots[row["supply"], row["arrived_on"]] in (
            int(row["arrived_packs"]) * size,
            int(row["arrived_packs"]) * 100,  # alcohol came in the small bottle
        )


def test_parts_from_a_lot_were_used_from_that_lot(tables: Tables) -> None:
    """A belt fitted is a belt taken out of its lot by the same service; one motor came from the donor."""
    used = {(row["service"], row["supply"], row["lot"]) for row in tables["uses.csv"]}
    from_lots = [row for row in tables["parts.csv"] if row["lot"]]
    donors = [row["donor"] for row in tables["parts.csv"] if row["donor"]]

    assert len(from_lots) >= 7
    assert {(row["service"], row["supply"], row["lot"]) for row in from_lots} <= used
    assert donors == ["D7"]


def test_a_unit_has_one_belt_at_a_time(tables: Tables) -> None:
    """A new belt ends the time of the old one, on the day it was fitted."""
    belts: dict[str, list[tuple[str, str]]] = {}
    for row in tables["parts.csv"]:
        if row["part"] == "belt":
            belts.setdefault(row["tag"], []).append((row["fitted_on"], row["removed_on"]))
    several = [sorted(found) for found in belts.values() if len(found) > 1]

    assert several
    assert all(removed == fitted for found in several for (_, removed), (fitted, _) in pairwise(found))
    assert all(max(found)[1] == "" for found in belts.values())


def test_belts_are_fitted_only_to_models_they_fit(tables: Tables) -> None:
    """The belt of one model is never taken for another."""
    models = {row["tag"]: row["model"] for row in tables["units.csv"]}
    fits = {row["supply"]: listed(row["fits"]) for row in tables["supplies.csv"]}

    assert all(models[row["tag"]] in fits[row["supply"]] for row in tables["parts.csv"] if row["supply"])
