"""One answer of a guided service, kept at once as an act of its own."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.service_given import GivenService
from collection.acts.service_record import ServiceDone, add_to_service, close_service, open_service
from collection.analysis.guide import Place


def keep_answer(
    engine: Engine,
    tag: str,
    given: GivenService,
    following: Place | None,
    *,
    is_open: bool,
    today: date,
    now: datetime,
) -> ServiceDone:
    """Keep an answer and which question follows it; None after the last one, which closes the service.

    The first answer, while no service is open, opens it. Raises Refused as the acts of a service do.
    """
    if following is None:
        return close_service(engine, tag, given, today=today, now=now)
    act = add_to_service if is_open else open_service
    return act(engine, tag, given, today=today, now=now, guide=following.spelt)
