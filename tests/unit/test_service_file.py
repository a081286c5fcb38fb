"""A service told in JSON."""

from __future__ import annotations

import pytest

from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenPart, GivenUse
from collection.cli.service_file import read_service
from collection.errors import Refused


def test_lists_hold_texts_as_the_options_take_them_or_objects() -> None:
    """Both forms may stand side by side; a number keeps the digits it was written with."""
    told = read_service(
        """{"on": "2026-02-28", "did": "clean head", "instrument": ["counter", "meter"], "minutes": 20,
            "as_found": ["spindle speed=301.20", {"measurement": "ripple", "point": "+5 V", "value": 40.0}],
            "used": [{"supply": "grease", "quantity": 0.50, "lot": "A"}], "part": ["belt from D7"],
            "by_the_sheet": true, "findings": null}""",
        "x.json",
    )

    assert {
        "on": "2026-02-28",
        "did": ("clean head",),
        "instruments": ("counter", "meter"),
        "minutes": 20,
        "as_found": (GivenReading("spindle speed", "301.20"), GivenReading("ripple", "40.0", "+5 V")),
        "used": (GivenUse("grease", "0.50", lot="A"),),
        "parts": (GivenPart("belt", donor="D7"),),
        "by_the_sheet": True,
        "findings": "",
    } == told


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "x.json, line 1: no JSON"),
        ("[]", "x.json: the whole is not an object."),
        pytest.param("[" * 100_000, "x.json: the whole is nested too deeply.", id="deep"),
        ('{"as_fond": []}', 'x.json: key "as_fond" is not known. Nearest: as_found'),
        ('{"outcome": "ready", "outcome": "donor"}', 'x.json: "outcome" stands twice.'),
        ('{"outcome": ["ready"]}', 'x.json: "outcome" is not a text.'),
        ('{"minutes": "soon"}', 'x.json: "minutes" is not a whole number.'),
        ('{"minutes": -5}', 'x.json: "minutes" is not a whole number.'),
        ('{"minutes": 2.5}', 'x.json: "minutes" is not a whole number.'),
        ('{"by_the_sheet": "yes"}', 'x.json: "by_the_sheet" is neither true nor false.'),
        ('{"used": "grease=1 g"}', 'x.json: "used" is not a list.'),
        ('{"used": [{"supply": "grease"}]}', 'x.json: used: "quantity" is missing.'),
        ('{"used": [{"suply": "grease"}]}', 'x.json: used: key "suply" is not known. Nearest: supply.'),
        ('{"used": ["grease"]}', '"grease" is no amount of a supply.'),
        ('{"as_left": [{"value": 3}]}', 'x.json: as_left: "measurement" is missing.'),
        ('{"did": [["clean head"]]}', 'x.json: "did" is not a text.'),
    ],
)
def test_what_cannot_be_read_is_refused_by_name(text: str, says: str) -> None:
    """The source, the key and the rule are named."""
    with pytest.raises(Refused) as refused:
        read_service(text, "x.json")

    assert says in str(refused.value)
