"""Headings in a person's words."""

from __future__ import annotations

import pytest

from collection.analysis.written.heading_words import MEASUREMENTS, SUBJECTS
from collection.analysis.written.headings import Guess, propose, subject_of


@pytest.mark.parametrize(
    ("heading", "subject", "field"),
    [
        ("serial no.", "units", "units.serial"),
        ("S/N", "units", "units.serial"),
        ("ser.#", "units", "units.serial"),
        ("Seriennr.", "units", "units.serial"),
        ("bought", "units", "units.acquired_on"),
        ("Date acquired:", "units", "units.acquired_on"),
        ("price paid", "units", "units.price"),
        ("Price (EUR)", "units", "units.price"),
        ("where", "units", "units.location"),
        ("Standort", "units", "units.location"),
        ("belongs to", "units", "units.owner"),
        ("No.", "units", "units.tag"),
        ("last cleaned", "units", "service.opened_on"),
        ("rpm before", "units", "reading.as_found:spindle speed"),
        ("RPM (after)", "services", "reading.as_left:spindle speed"),
        ("as-found rpm", "services", "reading.as_found:spindle speed"),
        ("speed out", "services", "reading.as_left:spindle speed"),
        ("-5 V before", "services", "reading.as_found:rail voltage:-5 V"),
        ("+5V after", "services", "reading.as_left:rail voltage:+5 V"),
        ("what I did", "services", "service.work"),
        ("Serviced", "services", "service.opened_on"),
        ("qty", "supplies", "lots.quantity"),
        ("in stock", "supplies", "lots.quantity"),
        ("shop", "supplies", "lots.supplier"),
        ("best before", "supplies", "lots.expires_on"),
        ("speed found", "services", "reading.as_found:spindle speed"),
        ("Description", "services", "service.work"),
        ("est. value", "units", "valuation.amount"),
        ("on loan to", "units", "loan.person"),
        ("due back", "loans", "loan.due_on"),
        ("worth", "valuations", "valuation.amount"),
        ("what's wrong", "faults", "fault.symptom"),
    ],
)
def test_usual_words_are_known_for_sure(heading: str, subject: str, field: str) -> None:
    """Case, punctuation and signs do not matter."""
    assert Guess(field, sure=True) == propose(heading, subject)[0]


@pytest.mark.parametrize("heading", ["date", "price", "name", "no.", "who", "notes"])
def test_a_word_of_many_meanings_is_sure_only_where_the_table_is_known(heading: str) -> None:
    """Without a subject it offers several; with one it means one thing."""
    anywhere = propose(heading)

    assert len(anywhere) > 1
    assert not any(guess.sure for guess in anywhere)
    meant = {subject: propose(heading, subject)[0].field for subject in ("units", "services", "supplies", "loans")}
    assert len(set(meant.values())) > 1


@pytest.mark.parametrize(
    ("heading", "subject"),
    [
        ("serail no", "units"),
        ("Purchse date", "units"),
        ("RPM", "units"),
        ("measured rpm", "units"),
        ("after", "units"),
        ("qty", "units"),
        ("brand", "supplies"),
        ("min", "supplies"),
    ],
)
def test_likenesses_open_words_and_words_of_another_list_are_never_sure(heading: str, subject: str) -> None:
    """A slip of the keys, a reading of no stage, a stage of no measurement, the drawer's words among units."""
    found = propose(heading, subject)

    assert found
    assert not found[0].sure


def test_what_is_like_nothing_proposes_nothing() -> None:
    """No guess is better than a wild one."""
    assert [] == propose("qzx 77", "units") == propose("", "units") == propose("---")
    assert [] == propose("new belt?", "services")


@pytest.mark.parametrize(
    ("headings", "subject"),
    [
        (["No.", "Maker", "Model", "S/N", "Bought", "Price paid", "Where"], "units"),
        (["Nr", "Gerät", "Seriennr.", "gekauft", "Preis", "Standort", "Bemerkung"], "units"),
        (
            [
                "No.",
                "Make",
                "Type",
                "Ser. #",
                "Bought",
                "Paid",
                "Where kept",
                "Works?",
                "Speed before",
                "Speed after",
                "Last cleaned",
                "What I did",
                "Used",
                "Remarks",
            ],
            "units",
        ),
        (["Date", "Drive", "Serial", "rpm before", "rpm after", "what I did"], "services"),
        (["Date", "Drive", "rpm before", "rpm after", "what I did", "used"], "services"),
        (["drive", "measured", "instrument", "value", "stage"], "readings"),
        (["item", "qty", "shop", "best before", "price"], "supplies"),
        (["drive", "problem", "cause", "fix", "date", "closed"], "faults"),
        (["who", "what", "lent", "due back", "returned"], "loans"),
        (["drive", "worth", "date", "by"], "valuations"),
    ],
)
def test_a_table_is_known_by_its_headings(headings: list[str], subject: str) -> None:
    """Its subject stands first and is sure."""
    assert Guess(subject, sure=True) == subject_of(headings)[0]


def test_a_table_that_may_be_two_things_is_not_sure_and_one_of_nothing_has_no_subject() -> None:
    """Date, what and notes stand above many lists."""
    assert not subject_of(["Date", "What", "Notes"])[0].sure
    assert [] == subject_of(["foo", "", "bar"])


def test_every_field_is_a_column_of_the_book_and_every_measurement_one_of_the_reference_data() -> None:
    """Only the subjects' own short names (service, fault, loan, valuation) differ from the files of the folder."""
    import csv
    import re
    from pathlib import Path

    from collection.views.folder.form import FORMS

    columns = {f"{form.file.removesuffix('.csv')}.{column}" for form in FORMS.values() for column in form.columns}
    own = {"services.work", "services.used", "services.parts", "faults.circumstances", "faults.note", "loans.note"}
    own |= {"valuations.note", "lots.location"}
    fields = {
        re.sub(r"^(service|fault|loan|valuation)\.", r"\1s.", field) for table in SUBJECTS.values() for field in table
    }
    assert fields - columns <= own

    reference = Path(__file__).parents[2] / "seed_data/reference/measurements.csv"
    known = {row["measurement"] for row in csv.DictReader(reference.read_text(encoding="utf-8").splitlines(True))}
    assert known == {name.partition(":")[0] for name in MEASUREMENTS}
