"""Serial numbers that make one wonder."""

from __future__ import annotations

import pytest

from collection.analysis.serials import odd_serial


@pytest.mark.parametrize("serial", ["4711", "A-1", "1E5", "111", "12.5", "0001", "QD3/00.1"])
def test_an_ordinary_serial_is_not_odd(serial: str) -> None:
    """Short repetitions and letters E are the maker's business."""
    assert odd_serial(serial, "known") is None
    assert odd_serial(serial, None) is None


@pytest.mark.parametrize(
    ("serial", "state", "word"),
    [
        ("4711", "lost", "though it is lost"),
        ("N/A", "known", "is this a serial?"),
        ("Unknown", None, "is this a serial?"),
        ("47?1", None, "is this a serial?"),
        ("1111", None, "over and over"),
        ("XXXX", None, "over and over"),
        ("1.23E+05", None, "a spreadsheet"),
        ("1e+11", None, "a spreadsheet"),
        ("12345.0", None, "a spreadsheet"),
    ],
)
def test_an_odd_serial_says_what_is_odd(serial: str, state: str | None, word: str) -> None:
    """Placeholders, one character over and over, and what a spreadsheet makes of long numbers."""
    assert word in str(odd_serial(serial, state))
