"""How what stands against lending units is refused, several units at once, or kept as a mark of the loan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from collection.acts.work import Work
from collection.errors import Refused, typed
from collection.views.units import Unit

_SHOWN = 3
_MOST = 18_000  # characters of what is kept in a mark


class Objection(NamedTuple):
    """What stands against a loan, in words that name no person; mend: what to type once it is mended, or ""."""

    says: str
    mend: str = ""


class Judged(NamedTuple):
    """A unit that is to be lent: what no reason overrides, None for nothing, else what a reason does."""

    unit: Unit
    impossible: Refused | None
    found: Sequence[Objection]


def refuse_units(judged: Sequence[Judged], all_the_same: str, lent: str = "lent", lend: str = "lend {}") -> None:
    """Refuse at once all units that are not lent: a line each, then what to type, each once.

    lent, lend: what is not done with them, as "lent longer", "lend {} longer".
    """
    asked = {} if all_the_same.strip() else {each.unit.tag: each for each in judged if each.found}
    told = [each for each in judged if each.impossible or each.unit.tag in asked]
    if len(told) > 1:
        says = [each.impossible.what if each.impossible else _against(each.unit, each.found, lent) for each in told]
        mends = [mend for each in told for mend in ([each.impossible.hint] if each.impossible else _mends(each.found))]
        if asked:
            reason = f'to {lend.format(", ".join(asked))} give a reason: --all-the-same "REASON".'
            mends.append(f"See: spindlebook unit show TAG; or {reason}")
        raise Refused("\n".join(says), "\n".join(dict.fromkeys(mends)))
    for each in told:
        raise each.impossible or _refusal(each.unit, each.found, lent)


def mark(
    work: Work, loan_id: int, unit: Unit, found: Sequence[Objection], all_the_same: str, done: str = "lent"
) -> None:
    """Mark a loan as one that was made, or ended, although something stood against it."""
    if found:
        says = f"{done} all the same ({all_the_same.strip()}): {'; '.join(each.says for each in found)}"
        work.doubt("loan", loan_id, "unit", unit.tag, says[:_MOST])


def _refusal(unit: Unit, found: Sequence[Objection], lent: str) -> Refused:
    mend = "".join(f"{each}; " for each in _mends(found))
    return Refused(
        _against(unit, found, lent),
        f"{mend}{'see' if mend else 'See'}: spindlebook unit show {typed(unit.tag)};"
        ' or give a reason: --all-the-same "REASON".',
    )


def _against(unit: Unit, found: Sequence[Objection], lent: str) -> str:
    more = f"; and {len(found) - _SHOWN} more" if len(found) > _SHOWN else ""
    return f"{unit.tag} is not {lent}: {'; '.join(each.says for each in found[:_SHOWN])}{more}."


def _mends(found: Sequence[Objection]) -> list[str]:
    return [each.mend for each in found if each.mend]
