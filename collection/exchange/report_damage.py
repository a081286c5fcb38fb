"""What the page of a damage or loss is given: what an owner and an insurer ask for, and what is not told yet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from collection.exchange.pictures import Picture
from collection.exchange.report_page import data_uri
from collection.quantity import show_day
from collection.views.damage_case import DamageCase, OnLoan
from collection.views.damage_words import check_words, joined, sum_words, worth_words
from collection.views.policies import Policy

Facts = Iterable[tuple[str, str]]


def damage_places(case: DamageCase, form: str, pictures: Sequence[Picture]) -> dict[str, Any]:
    """Return what the template of a damage or loss may name.

    form: how the book writes days. pictures: all that is attached to the unit; those of the damage are shown.
    """

    def day(text: str) -> str:
        return show_day(text, form) if text else ""

    damage, unit = case.damage, case.unit
    sections = (
        ("What happened", _what_happened(case, day)),
        ("The unit", _the_unit(case, day)),
        ("What it is worth, and what was paid", _sums(case, day)),
        ("Who was told, and what was done", _told(case, day)),
    )
    shown = [{"title": title, "facts": [pair for pair in facts if pair[1]]} for title, facts in sections]
    return {
        "title": f"{'Loss' if damage.kind == 'loss' else 'Damage'} {damage.name}",
        "facts": [
            ("reference number", damage.name),
            ("unit", f"{unit.tag}, {unit.maker} {unit.model}".replace("  ", " ")),
            ("state", f"closed {day(damage.closed_on)}" if damage.closed_on else "open"),
        ],
        "sections": [section for section in shown if section["facts"]],
        "pictures": [_picture(each, day) for each in pictures if each.number in case.photos],
        "to_do": [each.what for each in case.to_do],
    }


def _what_happened(case: DamageCase, day: Callable[[str], str]) -> Facts:
    damage = case.damage
    yield "what", damage.what
    yield "found", day(damage.found_on)
    yield "how it happened", damage.circumstances
    yield "reported", joined(day(damage.reported_on), damage.reported_by and f"by {damage.reported_by}")
    yield "noted by", damage.by
    if case.loan is not None:
        yield case.loan.how, _loan(case.loan, day)


def _the_unit(case: DamageCase, day: Callable[[str], str]) -> Facts:
    unit = case.unit
    yield "kind", unit.kind
    yield "serial", unit.serial
    yield "marks", case.marks
    yield "owner", unit.owner
    yield "condition before", check_words(case.before, day)
    yield "condition after it", check_words(case.at, day)


def _sums(case: DamageCase, day: Callable[[str], str]) -> Facts:
    damage = case.damage
    yield "worth then", worth_words(case.worth, day)
    yield "mending or replacing", sum_words(damage.estimate)
    yield "paid", joined(sum_words(damage.settled), day(damage.settled_on))


def _told(case: DamageCase, day: Callable[[str], str]) -> Facts:
    damage = case.damage
    yield "owner told", day(damage.owner_told_on)
    yield "policy", "\n".join(_policy(each, day) for each in case.policies)
    yield "insurer told", joined(day(damage.insurer_told_on), damage.claim and f"claim {damage.claim}")
    yield "done about it", damage.actions
    yield "closed", joined(day(damage.closed_on), damage.closed_how)


def _loan(loan: OnLoan, day: Callable[[str], str]) -> str:
    cover = loan.cover and f"cover: {loan.cover}"
    return joined(loan.whose, f"{day(loan.out_on)} to {day(loan.due_on)}", cover)


def _policy(policy: Policy, day: Callable[[str], str]) -> str:
    until = policy.to_date and f"to {day(policy.to_date)}"
    return joined(policy.name, policy.insurer, " ".join(filter(None, (f"from {day(policy.from_date)}", until))))


def _picture(picture: Picture, day: Callable[[str], str]) -> dict[str, str]:
    says = joined(picture.title, day(picture.taken_on)) or f"picture {picture.number}"
    if picture.jpeg is None:
        return {"src": "", "says": f"{says} ({picture.why})"}
    return {"src": data_uri(picture.jpeg, "image/jpeg"), "says": says}
