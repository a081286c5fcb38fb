"""Days as people write them, against python-dateutil (an independent reader of dates) and the calendar."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil import parser
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.written.dates import order_of, read_day, read_serial
from collection.errors import Refused
from collection.quantity import parse_day

TODAY = date(2026, 3, 1)
DAYS = st.dates(date(1950, 1, 1), date(2099, 12, 31))
DAY_FIRST = ("%d.%m.%Y", "%d. %m. %Y", "%d.%m.%Y 00:00:00")
NO_ORDER = (
    "%Y-%m-%d", "%Y/%m/%d", "%Y%m%d", "%Y-%m-%dT00:00:00", "%d %B %Y", "%d-%b-%Y", "%d%b%Y", "%B %d, %Y", "%b %d %Y",
    "%A, %d %B %Y", "%a %d %b %Y", "%Y %b %d", "%d. %B %Y",
)  # fmt: skip


@given(DAYS, st.sampled_from(NO_ORDER + DAY_FIRST))
def test_a_whole_day_in_any_sure_form_is_the_day_that_dateutil_reads(day: date, form: str) -> None:
    """Forms with one meaning are read as dateutil reads them, without a doubt; with points the day stands first."""
    text = day.strftime(form)

    read = read_day(text, today=TODAY)

    assert parser.parse(text, dayfirst=form in DAY_FIRST).date().isoformat() == read.value
    assert "" == read.doubt


@given(DAYS, st.sampled_from("/- "), st.sampled_from(("dmy", "mdy")))
def test_two_orders_are_a_doubt_just_where_both_are_days(day: date, mark: str, form: str) -> None:
    """Read by the book's date form as dateutil does when told so; a part over 12 or two equal parts leave no doubt."""
    text = day.strftime(f"%d{mark}%m{mark}%Y" if form == "dmy" else f"%m{mark}%d{mark}%Y")

    read = read_day(text, form, today=TODAY)

    assert parser.parse(text, dayfirst=form == "dmy").date().isoformat() == read.value
    assert (day.day <= 12 and day.day != day.month) == bool(read.doubt)


def test_a_doubtful_order_names_both_days() -> None:
    """The doubt says what was read and what it could be."""
    assert ("2021-05-12", "read as 12 May 2021: the day is read first; it could be 5 Dec 2021") == read_day(
        "12/05/2021", today=TODAY
    )


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["02/10/2024", "02/13/2024"], "mdy"),
        (["02/10/2024", "13-02-2024"], "dmy"),
        (["02/10/2024", "02/12/2024", "31.01.2024", "2024-13-01", "x"], "iso"),
        (["02/13/2024", "13/02/2024"], "iso"),
    ],
)
def test_one_day_that_can_be_read_in_one_way_tells_the_order_of_its_column(texts: list[str], order: str) -> None:
    """Where none tells, or two tell otherwise, the book's form stays."""
    assert order == order_of(texts, "iso")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12. Mai 2021", "2021-05-12"),
        ("Montag, 3. März 2020", "2020-03-03"),
        ("1er août 2019", "2019-08-01"),
        ("12 de mayo de 2021", "2021-05-12"),
        ("12th of May, 2021", "2021-05-12"),
        ("Sept. 2019", "2019-09"),
        ("March 2022", "2022-03"),
        ("03/2022", "2022-03"),
        ("2022-3", "2022-03"),
        ("2022", "2022"),
        ("12\N{NO-BREAK SPACE}May\N{NO-BREAK SPACE}2021", "2021-05-12"),
    ],
)
def test_what_is_known_is_kept_without_a_doubt(text: str, value: str) -> None:
    """Months by name in four languages, and days of which only month or year is known."""
    assert (value, "") == read_day(text, today=TODAY)


@pytest.mark.parametrize(
    ("text", "value", "says"),
    [
        ("spring 2022", "2022", '"spring" is left out'),
        ("late May 2021", "2021-05", '"late" is left out'),
        ("Q1 2022", "2022", "quarter 1 is left out"),
        ("ca. 2020", "2020", "the cell says about"),
        ("~2020", "2020", "the cell says about"),
        ("12.05.2021?", "2021-05-12", "the cell has a question mark"),
        ("Mar 22", "2022-03", "it could be a day without a year"),
        ("12.05.2021 14:30", "2021-05-12", 'the time "14:30" is left out'),
        ("05.13.2021", "2021-05-13", "the month is read first"),
        ("14 Feb 2020 (birthday)", "2020-02-14", '"(birthday)" is left out'),
        ("12.5.36", "2036-05-12", 'the year "36" is read as 2036'),
        ("12.5.50", "1950-05-12", 'the year "50" is read as 1950'),
    ],
)
def test_what_is_assumed_is_said(text: str, value: str, says: str) -> None:
    """Parts of a year, "about", times and years of two digits (ten years ahead at most) are read with their doubt."""
    read = read_day(text, today=TODAY)

    assert value == read.value
    assert read.doubt.startswith("read as ")
    assert says in read.doubt


@pytest.mark.parametrize(
    ("text", "taken"),
    [
        ("29.02.2020", True),
        ("29.02.2021", False),
        ("31.02.2021", False),
        ("00.05.2021", False),
        ("01.05.2021", True),
        ("31.05.2021", True),
        ("32.05.2021", False),
        ("30.04.2021", True),
        ("31.04.2021", False),
        ("0/2021", False),
        ("1/2021", True),
        ("12/2021", True),
        ("13/2021", False),
        ("2021-00-10", False),
        ("2021-13-01", False),
        ("1949", False),
        ("1950", True),
        ("12.5.37", False),
    ],
)
def test_a_day_of_no_calendar_or_before_any_drive_is_refused(text: str, taken: bool) -> None:
    """Below, at and above the limits of months, days, leap years and 1950."""
    if taken:
        parse_day(read_day(text, today=TODAY).value)
    else:
        with pytest.raises(Refused, match=r"does not exist|before 1950"):
            read_day(text, today=TODAY)


@pytest.mark.parametrize(
    "text",
    ["yesterday", "May", "12 May", "05/12", "2019-2020", "winter 2021/22", "before 2019", "1990s", "44328", "2021⁵"],
)
def test_what_names_no_day_is_refused_with_how_to_write_it(text: str) -> None:
    """Neither a missing year nor one of two years is guessed."""
    with pytest.raises(Refused, match=r"(?i)write (it as|the one that is known, as) 2021"):
        read_day(text, today=TODAY)


@given(st.text(alphabet="0123456789./-, '?~QMayMärz()", max_size=14))
def test_whatever_is_read_is_a_day_of_the_book(text: str) -> None:
    """Any cell is refused in words or gives a day that the book itself reads."""
    try:
        read = read_day(text, today=TODAY)
    except Refused:
        return

    assert read.value == parse_day(read.value).text


@pytest.mark.parametrize(("number", "taken"), [(18263, False), (18264, True), (73050, True), (73051, False)])
def test_a_spreadsheet_day_number_is_read_from_1950_to_2099(number: int, taken: bool) -> None:
    """Below, at and above both ends; always doubtful."""
    if not taken:
        with pytest.raises(Refused, match="18264 to 73050"):
            read_serial(number)
        return

    read = read_serial(number)

    assert (date(1899, 12, 30) + timedelta(number)).isoformat() == read.value
    assert "day number" in read.doubt


def test_day_numbers_against_openpyxl() -> None:
    """44328 is the day that openpyxl's own conversion gives."""
    from openpyxl.utils.datetime import from_excel

    assert from_excel(44328).date().isoformat() == read_serial(44328).value
