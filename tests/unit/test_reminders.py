"""The text that reminds a borrower: what it says of one unit and of several."""

from __future__ import annotations

from collection.analysis.reminders import StillOut, reminder

D4 = StillOut("D4", "VK 410", "L-3", "2026-01-20", "2026-02-20")
P6 = StillOut("P6", "NT 12", "L-3", "2026-01-20", "2026-02-20")


def test_a_reminder_names_units_loans_and_days_and_who_asks() -> None:
    """Each unit has its line; the words fit one and several."""
    one, two = "\n".join(reminder("Wen Salloway", [D4], "Drive Club")), "\n".join(reminder("Wen", [D4, P6], ""))

    assert "Dear Wen Salloway,\n\nthis is still noted as on loan to you:\n\n" in one
    assert "  D4, VK 410 (loan L-3): out since 2026-01-20, due back 2026-02-20\n" in one
    assert one.endswith("Thank you,\nDrive Club")
    assert "these are still noted" in two
    assert [True, True] == [f"  {tag}, " in two for tag in ("D4", "P6")]
    assert [True, False] == ["bring it back" in text for text in (one, two)]
    assert two.endswith("who keeps the book of the collection")


def test_a_reminder_warns_of_opening_and_threatens_with_nothing() -> None:
    """Who is asked what is wrong must not be led to look inside; no fee, no consequence."""
    text = "\n".join(reminder("Wen", [D4], "")).lower()

    assert "open nothing" in text
    assert "mains\nvoltage" in text
    assert max(map(len, text.splitlines())) <= 80
    assert [] == [
        word for word in ("fee", "fine", "must", "immediately", "otherwise", "deposit", "police") if word in text
    ]
