"""Which backups stay: the newest ones, the last of each of so many days, the last of each of so many months.

Days and months count when there is a backup of them, so a clock that was wrong, or a year without a backup, takes none
away. That older ones are kept ever more thinly is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Rule:
    """How many stay: `newest` at least 1, of so many `days` and `months` the last one each, 0 for none."""

    newest: int = 7
    days: int = 14
    months: int = 12


def kept_by(made: Sequence[datetime], rule: Rule) -> list[str]:
    """Return for each backup what it stays for: "newest", "its day", "its month"; "" for one that may go.

    made: the instants at which they were made, in the time zone whose days count, the oldest first.
    """
    reasons = [""] * len(made)
    days: set[str] = set()
    months: set[str] = set()
    for place in range(len(made) - 1, -1, -1):
        day, month = made[place].date().isoformat(), made[place].strftime("%Y-%m")
        if len(made) - place <= max(rule.newest, 1):
            reasons[place] = "newest"
        elif day not in days and len(days) < rule.days:
            reasons[place] = "its day"
        elif month not in months and len(months) < rule.months:
            reasons[place] = "its month"
        days.add(day)
        months.add(month)
    return reasons
