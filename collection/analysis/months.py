"""Calendar months: adding them, and spreading work over them."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta
from functools import lru_cache

from collection.errors import Refused


@lru_cache(maxsize=65536)
def add_months(start: date, n: int) -> date:
    """Return the same day of the month `n` months on (or back), or that month's last day if it is shorter.

    31 January and one month is the last day of February. Raises Refused outside the years 1 to 9999.
    """
    year, month0 = divmod(start.year * 12 + start.month - 1 + n, 12)
    if not date.min.year <= year <= date.max.year:
        raise Refused(f"{start} and {n} months lies outside the calendar.", "Give a smaller number of months.")
    return date(year, month0 + 1, min(start.day, monthrange(year, month0 + 1)[1]))


def spread(n_items: int, months: int, start: date) -> list[date]:
    """Return `n_items` days, in order, spread evenly over the next `months` months from `start`.

    The time is cut into equal shares and each item stands in the middle of its own, so that neither the first
    day nor the last is crowded. Raises Refused for a negative number of items or less than one month.
    """
    if n_items < 0 or months < 1:
        raise Refused(
            f"{n_items} items cannot be spread over {months} months.",
            "Give at least one month, and 0 items or more.",
        )
    days = (add_months(start, months) - start).days
    return [start + timedelta(days=(2 * i + 1) * days // (2 * n_items)) for i in range(n_items)]
