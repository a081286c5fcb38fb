"""How a procedure's columns are read."""

from __future__ import annotations

import pytest

from collection.analysis.procedures import Reset, parse_procedure
from collection.errors import Refused


def test_all_triggers_of_a_procedure_are_read() -> None:
    """Events, months unused and the words of each symptom stand side by side, in any case and spacing."""
    rule = parse_procedure(
        1,
        "check spindle speed",
        triggers="After arrival; after LOAN;after transport ; unused 12 months; symptom Speed  wanders;"
        " symptom squeal;",
    )

    assert {"arrival", "loan", "transport"} == rule.after
    assert 12 == rule.unused_months
    assert (("speed", "wanders"), ("squeal",)) == rule.symptoms


def test_without_triggers_there_is_none() -> None:
    """An empty column makes nothing due."""
    rule = parse_procedure(1, "store away")

    assert (frozenset(), None, ()) == (rule.after, rule.unused_months, rule.symptoms)


@pytest.mark.parametrize(("trigger", "months"), [("unused 1 month", 1), ("unused 1200 months", 1200)])
def test_months_unused_are_read_at_both_ends(trigger: str, months: int) -> None:
    """One month to a hundred years."""
    assert months == parse_procedure(1, "exercise", triggers=trigger).unused_months


@pytest.mark.parametrize(
    "trigger",
    [
        "after rain",
        "unused",
        "unused 0 months",
        "unused 1201 months",
        "unused long",
        "unused 3 weeks",
        "symptom",
        "arrival",
    ],
)
def test_an_unknown_form_of_trigger_is_refused_with_the_forms_there_are(trigger: str) -> None:
    """The refusal names the procedure, the trigger as seen, and every form to type."""
    with pytest.raises(Refused) as caught:
        parse_procedure(1, "clean head", triggers=f"after loan; {trigger}")

    assert (
        f'Procedure "clean head": trigger "{trigger}" is not known. Type "after arrival", "after loan",'
        ' "after transport", "unused 12 months" or "symptom WORDS", separated by semicolons.' == str(caught.value)
    )


def test_resets_and_retests_are_read() -> None:
    """Level, or level and slope, by measurement; retests by name alone."""
    rule = parse_procedure(
        1,
        "replace belt",
        resets="Spindle Speed: level+slope; azimuth:level",
        retests="spindle speed; Belt Condition",
    )

    assert (Reset("spindle speed", slope=True), Reset("azimuth", slope=False)) == rule.resets
    assert ("spindle speed", "belt condition") == rule.retests


@pytest.mark.parametrize(
    "reset", ["spindle speed", "spindle speed: slope", ": level", "spindle speed: level+", "level"]
)
def test_an_unknown_form_of_reset_is_refused(reset: str) -> None:
    """A reset without measurement, level or slope alone would silently reset nothing."""
    with pytest.raises(
        Refused, match=r'^Procedure "replace belt": resets ".*" is not known\. Type "MEASUREMENT: level"'
    ):
        parse_procedure(1, "replace belt", resets=reset)


@pytest.mark.parametrize(("months", "good"), [(0, False), (1, True), (1200, True), (1201, False), (-3, False)])
def test_an_interval_is_one_month_to_a_hundred_years(months: int, *, good: bool) -> None:
    """Months that no calendar can keep are refused with the value seen."""
    if good:
        assert months == parse_procedure(1, "dust out", every_months=months).every_months
    else:
        with pytest.raises(Refused, match=f"every {months} months is outside 1 to 1200"):
            parse_procedure(1, "dust out", every_months=months)


@pytest.mark.parametrize(("hours", "good"), [(0.0, False), (0.1, True), (-1.0, False), (float("nan"), False)])
def test_running_hours_are_above_zero(hours: float, *, good: bool) -> None:
    """Every 0 h would be due for ever."""
    if good:
        assert hours == parse_procedure(1, "dust out", every_hours=hours).every_hours
    else:
        with pytest.raises(Refused, match="hours is not above zero"):
            parse_procedure(1, "dust out", every_hours=hours)


@pytest.mark.parametrize(
    ("applies_to", "good"),
    [
        ("", True),
        ("drive", True),
        ("Belt", True),
        ("supply unit; belt", True),
        ("rotor 5", True),
        ("Kestrel Rotor 5", True),
        ("supply unit", False),
        ("direct crystal; rotor 6", False),
        ("kestrel", False),
    ],
)
def test_a_procedure_applies_by_kind_drive_type_or_model(applies_to: str, *, good: bool) -> None:
    """Nothing listed is every unit; a model may be named with or without its maker."""
    rule = parse_procedure(1, "clean head", applies_to=applies_to)

    assert good == rule.applies("drive", "belt", "Kestrel", "Rotor 5")
