"""Whether a unit is set for the mains it would be plugged into."""

import pytest

from collection.analysis.mains import other_mains


@pytest.mark.parametrize(
    "setting",
    ["", "not marked", "230 V", "220V", "240 V~", "207 V", "253 V", "115/230 V", "100-240 V, 50 Hz", "100 to 240 V"],
)
def test_a_setting_that_fits_says_nothing(setting: str) -> None:
    """Within 10 % of 230 V (IEC 60038, from memory), a range that holds it, one of two, or no voltage at all."""
    assert "" == other_mains(setting, 230)


@pytest.mark.parametrize(
    "setting", ["115 V", "206 V", "254 V", "110-120 V", "100/120 V, 60 Hz", "115 V, 230 mA", "115"]
)
def test_a_setting_for_other_mains_is_told(setting: str) -> None:
    """Just outside 10 %, and figures that are no voltage do not save it."""
    assert "the mains here are 230 V" == other_mains(setting, 230)


def test_the_mains_of_the_book_decide() -> None:
    """The same unit in a country of 120 V."""
    assert ["", "the mains here are 120 V"] == [other_mains(each, 120) for each in ("115 V", "230 V")]
