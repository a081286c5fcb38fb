"""Faults alike by their words, and how they are summed up."""

from __future__ import annotations

import pytest

from collection.analysis.symptoms import Known, alike, stems, summed_up


def _fault(tag: str, symptom: str, model: str = "DM-8", kind: str = "drive", **more: str) -> Known:
    told = {"noticed_on": "2025-02-01", "circumstances": "", "cause": "", "cure": "", "closed_on": ""} | more
    return Known(tag=tag, maker="Halverby", model=model, kind=kind, symptom=symptom, no_fault_found=False, **told)


def _tags(words: str, *faults: Known, model: tuple[str, str] | None = None) -> list[str]:
    return [hit.fault.tag for hit in alike(words, faults, model)]


@pytest.mark.parametrize("words", ["squeal", "SQUEALING", "squeals when warm", "sqeals"])
def test_endings_capitals_and_slips_find_the_same_fault(words: str) -> None:
    """Whoever remembers a fault need not remember how it was written."""
    assert ["D1"] == _tags(words, _fault("D1", "squeals", circumstances="warm"), _fault("D2", "head worn"))


def test_short_words_are_not_taken_for_one_another() -> None:
    """Of "hum" and "hub", "head" and "read" each is one letter from the other and nothing like it."""
    assert [] == _tags("hum", _fault("D1", "hub loose"))
    assert [] == _tags("head", _fault("D1", "read errors"))


def test_more_than_half_of_the_words_must_be_there() -> None:
    """One of two is not enough, two of three are."""
    fault = _fault("D1", "read errors on track 60")

    assert [] == _tags("write errors", fault)
    assert ["D1"] == _tags("write errors on track", fault)


def test_the_same_model_comes_first_then_its_kind_and_no_others() -> None:
    """A drive says more about a drive than a supply unit does."""
    faults = (
        _fault("P1", "hums", "PS-2", "supply unit"),
        _fault("D4", "hums", "DS-3", noticed_on="2025-09-01"),
        _fault("D1", "hums"),
    )

    hits = alike("hum", faults, ("drive", "halverby dm-8"))

    assert [("D1", "same model"), ("D4", "same kind")] == [(hit.fault.tag, hit.sort) for hit in hits]
    assert ["D4", "P1", "D1"] == _tags("hum", *faults)


def test_days_are_counted_where_both_are_known_to_the_day() -> None:
    """A month alone gives no number of days, nor does a fault that is open."""
    faults = [
        _fault("D1", "hums", closed_on="2025-02-04"),
        _fault("D2", "hums", closed_on="2025-03"),
        _fault("D3", "hums"),
    ]

    assert {"D1": 3, "D2": None, "D3": None} == {hit.fault.tag: hit.days for hit in alike("hums", faults)}


def test_cures_that_say_the_same_are_counted_as_one() -> None:
    """The commonest cure comes first; what was not found, not told or is open is counted besides."""
    closed = {"closed_on": "2025-02-04"}
    faults = [
        _fault("D1", "hums", cure="new belt", **closed),
        _fault("D2", "hums", cure="cleaned the head", **closed),
        _fault("D3", "hums", cure="Cleaned head", **closed),
        _fault("D4", "hums", **closed),
        _fault("D5", "hums"),
    ]
    nothing = Known("D6", "", "DM-8", "drive", "2025-02-01", "hums", "", "", "", True, "2025-02-02")

    said = summed_up(alike("hums", [*faults, nothing]))

    assert (
        '6 like it: 2 cured by "cleaned the head", 1 cured by "new belt", 1 no fault found,'
        " 1 closed without a cure told, 1 still open"
    ) == said


def test_words_too_small_count_only_where_there_are_no_others() -> None:
    """What is "not ready" is looked for as "ready", "on and off" as it stands."""
    assert ("ready",) == stems("not ready")
    assert ("on", "and", "off")[-1:] == stems("on and off")
    assert ("on", "and") == stems("on and")
