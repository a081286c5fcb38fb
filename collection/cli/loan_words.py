"""What is typed of single units of a loan: "D1: scratched lid" speaks of D1, a text without a tag of the only unit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.tags import complete_instrument
from collection.errors import Refused, fold, typed

if TYPE_CHECKING:
    from collection.acts.loan_given import GivenState
    from collection.cli.show import Mode
    from collection.views.loans import LoanRow

Find = Callable[[str], int | None]
_STATE = (
    ("--condition", "conditions", "TEXT", "In what condition, as it is or as D1: scratched lid."),
    ("--grade", "grades", "WORD", "That in one word: pass, marginal or fail; as it is or as D1: pass."),
    ("--reading", "readings", "SERIES=VALUE", 'As "spindle speed=300.2", or "D1: spindle speed=300.2".'),
    ("--photo", "photos", "FILE", 'A picture taken then, as FILE or "D1: FILE".'),
)


def state_options(command: Callable[..., None]) -> Callable[..., None]:
    """Add the options that tell the state of units: conditions, grades, readings, instrument and photos."""
    new = click.option("--new-instrument", is_flag=True, help="Add an instrument that the book does not have.")
    used = click.option(
        "--instrument", default="", metavar="NAME", shell_complete=complete_instrument, help="What it was read with."
    )
    command = used(new(command))
    for option, name, stands, text in reversed(_STATE):
        command = click.option(option, name, multiple=True, metavar=stands, help=text)(command)
    return command


def tell_doubts_of(face: Face, rows: Sequence[LoanRow], occasion: str, mode: Mode) -> None:
    """Say what is doubtful about the readings of units on an occasion: loan out, loan back, entry or exit."""
    from collection.cli.condition import tell_doubts
    from collection.views.condition_checks import doubts_at_loan

    with face.view() as conn:
        tell_doubts([doubt for row in rows for doubt in doubts_at_loan(conn, row.item_id, occasion)], mode)


def finder(face: Face) -> Find:
    """Return how to find the unit of a tag or an alias; the book is asked when the first one is looked for."""

    @cache
    def units() -> dict[str, int]:
        from collection.views.units import unit_ids

        with face.view() as conn:
            return unit_ids(conn)

    return lambda tag: units().get(fold(tag))


def of_units(
    tags: Sequence[str], texts: Sequence[str], option: str, find: Find, *, all_alike: bool = False
) -> dict[str, list[str]]:
    """Return what is told of each tag; all_alike: a text without a tag speaks of every unit.

    find: the unit of a tag or an alias, None for none. A text is of the longest tag before one of its colons, for a tag
    may hold a colon. Raises Refused for a text that begins with the tag of another unit, and for one that does not say
    of which of several.
    """
    told: dict[str, list[str]] = {tag: [] for tag in tags}
    for text in texts:
        named = _named(tags, text, option, find)
        head, colon, rest = text.partition(":")
        if named is not None:
            tag, said = named
            told[tag].append(said.strip())
        elif len(tags) == 1:
            told[tags[0]].append(text)
        elif all_alike and not (colon and " " not in head.strip()):
            for each in told.values():
                each.append(text)
        else:
            raise Refused(
                f'{option} "{text}" does not say of which of {", ".join(tags)}.',
                f"Type it as {option} {typed(f'{tags[0]}: {(rest if colon else text).strip()}')}.",
            )
    return told


def _named(tags: Sequence[str], text: str, option: str, find: Find) -> tuple[str, str] | None:
    """Return the tag of whose unit a text begins with the longest name, and the rest; None for no name of a unit.

    Raises Refused where that name is of a unit that is not among the tags.
    """
    by_tag = {fold(tag): tag for tag in tags}
    for at in (at for at in range(len(text) - 1, -1, -1) if text[at] == ":"):
        head, rest = text[:at], text[at + 1 :]
        if fold(head) in by_tag:
            return by_tag[fold(head)], rest
        unit = find(head)
        if unit is None:
            continue
        for tag in tags:
            if find(tag) == unit:
                return tag, rest
        raise Refused(
            f'{option} "{text}" begins with the tag of a unit that is not named here ({", ".join(tags)}).',
            f"Name {head.strip()} too; or if it is told of {tags[0]}: {option} {typed(f'{tags[0]}: {text}')}.",
        )
    return None


def one_of_each(
    tags: Sequence[str], texts: Sequence[str], option: str, find: Find, *, all_alike: bool = False
) -> dict[str, str]:
    """Return the one text that is told of each tag, "" for none; several are put together by a semicolon."""
    return {tag: "; ".join(told) for tag, told in of_units(tags, texts, option, find, all_alike=all_alike).items()}


def states(tags: Sequence[str], told: dict[str, Any], find: Find) -> dict[str, GivenState]:
    """Return the state of each unit, out of what `state_options` gave, which is taken out of `told`.

    Raises Refused as `of_units`, for what is no reading, and for a file that cannot be read.
    """
    from collection.acts.attachments import GivenPhoto
    from collection.acts.loan_given import GivenState
    from collection.cli.service_words import parse_reading
    from collection.exchange.photo_files import read_photo

    conditions = one_of_each(tags, told.pop("conditions"), "--condition", find, all_alike=True)
    grades = one_of_each(tags, told.pop("grades"), "--grade", find, all_alike=True)
    readings = of_units(tags, told.pop("readings"), "--reading", find)
    photos = of_units(tags, told.pop("photos"), "--photo", find)
    instrument, new_instrument = told.pop("instrument"), told.pop("new_instrument")
    return {
        tag: GivenState(
            condition=conditions[tag],
            grade=grades[tag],
            readings=tuple(map(parse_reading, readings[tag])),
            instrument=instrument,
            new_instrument=new_instrument,
            photos=tuple(GivenPhoto(Path(file).name, read_photo(Path(file))) for file in photos[tag]),
        )
        for tag in tags
    }
