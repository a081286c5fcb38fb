"""Write the changes of an exported workbook, all or nothing, as one act."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.book_back_given import Origin
from collection.acts.book_back_plan import BackPlan, plan_back
from collection.acts.bring_in.plan import Tick, last_act
from collection.acts.bring_in.write import COMMAND, write_plan
from collection.acts.edit import needs_reason
from collection.acts.work import open_work
from collection.errors import Moved, Refused

_NAMED = 3


def check_reason(plan: BackPlan, reason: str) -> None:
    """Refuse a plan that changes what the past rests on while there is no reason."""
    if plan.resting and not reason.strip():
        more = f" and {len(plan.resting) - _NAMED} more" if len(plan.resting) > _NAMED else ""
        raise needs_reason(f"{'; '.join(plan.resting[:_NAMED])}{more}")


def bring_back(
    engine: Engine,
    plan: BackPlan,
    origin: Origin,
    *,
    today: date,
    now: datetime,
    reason: str = "",
    tick: Tick | None = None,
) -> None:
    """Write a plan as one act.

    If the book moved since it was compared, it is compared again inside the act; raises Moved when that shows anything
    else than what was agreed to, and Refused for a plan that something stands against or that needs a reason.
    """
    if not plan.writable or plan.plan is None:
        raise Refused("Some rows of the workbook cannot be brought in.", "Correct them first.")
    check_reason(plan, reason)
    with open_work(engine, COMMAND, today=today, now=now, reason=reason.strip() or None) as work:
        if last_act(work.conn, work.act_id) != plan.plan.last_act:
            again = plan_back(work.conn, origin, plan.sheets, today=today, prefer=plan.prefer)
            if again.findings != plan.findings or again.plan is None:
                raise Moved(
                    "The book was changed while you looked at this workbook, and it would now do something else.",
                    "Look at it again: repeat the command.",
                )
            plan = again
        if plan.plan is not None:
            write_plan(work, plan.plan, tick)
        asides = [(row_id, reason.strip()) for row_id in plan.asides]
        if asides:
            work.append_many("reading_aside", ("reading_id", "reason"), asides)
        counts = ", ".join(
            f"{plan.totals[kind]} {kind}" for kind in ("new", "changed", "doubtful") if plan.totals[kind]
        )
        work.commit(f"brought back {origin.file}: {counts}")
