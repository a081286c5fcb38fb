"""Whether a unit is set for the mains it would be plugged into."""

import pytest

from collection.analysis.mains import fed_from_mains, other_mains


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


@pytest.mark.parametrize(
    ("kind", "drive_type", "inside", "settings", "fed"),
    [
        ("drive", "belt", None, (), False),
        ("drive", "belt", True, (), True),
        ("drive", "AC motor", None, (), True),
        ("Supply Unit", "", None, (), True),
        ("computer", "", None, (), True),
        ("computer", "", False, (), False),
        ("drive", "belt", False, ("230 V",), True),
        ("drive", "belt", False, ("none", "12 V"), False),
    ],
)
def test_a_unit_is_fed_from_the_mains_as_far_as_the_book_can_tell(
    kind: str, drive_type: str, inside: bool | None, settings: tuple[str, ...], fed: bool
) -> None:
    """By its model, its kind, its motor, or a mains voltage noted when it came: common practice, no source."""
    assert fed is fed_from_mains(kind, drive_type, inside, settings)
