"""Work as people write it, against the names of the reference procedures."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from collection.analysis.written.work import Work, split_work

PROCEDURES = [
    row["procedure"]
    for row in csv.DictReader(
        (Path(__file__).parents[2] / "seed_data/reference/procedures.csv").read_text(encoding="utf-8").splitlines(True)
    )
]


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_every_procedure_is_known_by_its_own_name(procedure: str) -> None:
    """The name itself names it, and only it, without a doubt."""
    assert [Work(procedure, procedure)] == split_work(procedure, PROCEDURES)


@pytest.mark.parametrize(
    ("text", "procedures"),
    [
        ("cleaned heads, new belt", ["clean head", "replace belt"]),
        ("Cleaned head. Swapped belt.", ["clean head", "replace belt"]),
        ("cleaned head and changed belt", ["clean head", "replace belt"]),
        ("cleaned and greased rails", ["clean and re-lube rails"]),
        ("cleaned, lubed rails", ["clean and re-lube rails"]),
        ("adjusted speed to 300", ["set spindle speed"]),
        ("checked and set speed", ["check spindle speed", "set spindle speed"]),
        ("blew out dust", ["dust out"]),
        ("realigned head; set track 0 stop", ["align head", "set track-zero stop"]),
        ("Kopf gereinigt, Riemen gewechselt", ["clean head", "replace belt"]),
        ("-", []),
    ],
)
def test_work_in_any_form_of_its_words_names_the_procedure_for_sure(text: str, procedures: list[str]) -> None:
    """Verb forms, plurals and other words for the same deed leave no doubt when every word is there."""
    found = split_work(text, PROCEDURES)

    assert procedures == [work.procedure for work in found]
    assert not any(work.doubt for work in found)


@pytest.mark.parametrize(
    ("text", "procedure", "says"),
    [
        ("greased rails", "clean and re-lube rails", 'though it does not say "clean"'),
        ("aligned", "align head", 'though it does not say "head"'),
        ("belt", "replace belt", 'though it does not say "replace"'),
        ("checked caps", "visual check of capacitors", 'though it does not say "visual"'),
        ("cleaned", None, "may be clean head or clean and re-lube rails"),
        ("speed", None, "may be check spindle speed or set spindle speed"),
        ("head not cleaned", None, "seems to say what was not done"),
        ("needs new belt", None, "seems to say what was not done"),
        ("checked belt", None, ""),
        ("belt ok", None, ""),
        ("replaced motor", None, ""),
        ("cleaned case", None, ""),
        ("tightened screws", None, ""),
    ],
)
def test_work_that_fits_in_part_is_doubtful_and_other_work_names_nothing(
    text: str, procedure: str | None, says: str
) -> None:
    """Another verb or another thing is other work, however much else is shared; the words stay."""
    (found,) = split_work(text, PROCEDURES)

    assert (text, procedure) == found[:2]
    assert says in found.doubt
    assert bool(says) == bool(found.doubt)


def test_procedures_of_a_persons_own_are_found_by_their_words() -> None:
    """The book's procedures decide, whatever verbs they are named with; a verb carries over "and"."""
    found = split_work(
        "greased rails, swapped belt, cleaned head and case", ["grease rails", "change belt", "clean case"]
    )

    assert ["grease rails", "change belt", None, "clean case"] == [work.procedure for work in found]
