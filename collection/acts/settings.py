"""Setting what a book goes by, after it was started."""

from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.work import open_work
from collection.analysis.recheck import check_risk, show_risk
from collection.store.book import BookSettings, open_book
from collection.store.engine import fetch


def set_accepted_risk(engine: Engine, risk: float | None, *, today: date, now: datetime) -> tuple[float, float]:
    """Set the chance of being outside limits by which rechecks are set; None goes back to the usual one.

    Returns what counted before and what counts now; where that is equal, nothing is written. Raises Refused for a
    risk that no book can have.
    """
    if risk is not None:
        check_risk(risk)
    with open_work(engine, "book set", today=today, now=now) as work:
        before, after = open_book(work.conn).settings.risk, BookSettings(accepted_risk=risk).risk
        if before != after:
            work.update("book", fetch(work.conn, "SELECT id FROM book")[0][0], accepted_risk=risk)
            work.commit(f"the book: accepted risk {show_risk(before)} -> {show_risk(after)}")
    return before, after
