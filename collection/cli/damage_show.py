"""What a damage or loss is shown as, and what is still to be told of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from collection.cli.show import Column, emit, say, say_pairs
from collection.errors import typed
from collection.quantity import show_day
from collection.views.custody_rows import damage_row
from collection.views.damage_words import check_words, joined, sum_words, worth_words

if TYPE_CHECKING:
    from collection.cli.face import Face
    from collection.views.condition_checks import ConditionCheck
    from collection.views.damage_case import DamageCase
    from collection.views.worth import Valued


def show_case(face: Face, name: str) -> None:
    """Print a damage or loss with what is around it, and below what is still to be told."""
    case, form = _case(face, name)

    def day(text: str) -> str:
        return show_day(text, form) if text else ""

    damage, unit = case.damage, case.unit
    say(f"{damage.name}: {damage.kind}, {unit.tag} {unit.maker} {unit.model}".rstrip(), bold=True)
    say_pairs(_about(case, day))
    if case.to_do:
        say("")
        say("Still to do", bold=True)
        told_by = Column("option", f"told by: spindlebook damage edit {typed(damage.name)}")
        emit([each._asdict() for each in case.to_do], [Column("what"), told_by])
    say("", f"To print: spindlebook report damage {typed(damage.name)} --to {damage.name.lower()}.pdf")
    if damage.still_open:
        say(f"To close: spindlebook damage close {typed(damage.name)} --outcome TEXT")


def case_object(face: Face, name: str) -> dict[str, Any]:
    """Return the same as one JSON object."""
    case, _ = _case(face, name)
    return {
        **damage_row(case.damage),
        "owner": case.unit.owner or None,
        "worth": _worth_object(case.worth),
        "condition_before": _check_object(case.before),
        "condition": _check_object(case.at),
        "lent_to": case.loan.person if case.loan and case.loan.direction == "out" else None,
        "photos": list(case.photos),
        "policies": [policy.name for policy in case.policies],
        "still_to_do": [each._asdict() for each in case.to_do],
    }


def _case(face: Face, name: str) -> tuple[DamageCase, str]:
    from collection.store.book import open_book
    from collection.views.damage_case import damage_case

    with face.view() as conn:
        return damage_case(conn, name, face.today), open_book(conn).settings.date_form


def _about(case: DamageCase, day: Callable[[str], str]) -> Iterator[tuple[str, str]]:
    damage, loan = case.damage, case.loan
    yield "what", damage.what
    yield "found", day(damage.found_on)
    yield "circumstances", damage.circumstances
    yield "reported", joined(day(damage.reported_on), damage.reported_by and f"by {damage.reported_by}")
    yield "noted by", damage.by
    if loan is not None:
        yield loan.how, joined(loan.whose, f"due {day(loan.due_on)}", loan.cover)
    yield "owner", joined(case.unit.owner, damage.owner_told_on and f"told {day(damage.owner_told_on)}")
    yield "worth", worth_words(case.worth, day)
    yield "condition before", check_words(case.before, day)
    yield "condition now", check_words(case.at, day)
    yield "photos", _photos(case)
    yield "estimate", sum_words(damage.estimate)
    yield "policy", ", ".join(each.name for each in case.policies)
    told = damage.insurer_told_on and f"told {day(damage.insurer_told_on)}"
    yield "insurer", joined(told, damage.claim and f"claim {damage.claim}")
    yield "actions", damage.actions
    yield "settled", joined(sum_words(damage.settled), day(damage.settled_on))
    yield "closed", joined(day(damage.closed_on), damage.closed_how)


def _photos(case: DamageCase) -> str:
    if not case.photos:
        return ""
    numbers = ", ".join(map(str, case.photos))
    return f"{numbers}: spindlebook photo save {typed(case.damage.tag)} {case.photos[0]} FILE"


def _worth_object(worth: Valued | None) -> dict[str, Any] | None:
    if worth is None:
        return None
    amount = worth.amount
    return {"amount": amount.text, "currency": amount.currency, "basis": worth.basis, "valued_on": worth.valued_on}


def _check_object(check: ConditionCheck | None) -> dict[str, Any] | None:
    if check is None:
        return None
    keys = ("checked_on", "occasion", "condition", "grade", "by")
    return {key: getattr(check, key) or None for key in keys}
