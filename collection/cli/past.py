"""The options by which a list tells of another day: --as-of DAY and --known-on DAY."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import ParamSpec, TypeVar

import click

from collection.cli.face import Face

P = ParamSpec("P")
T = TypeVar("T")


def past_options(command: Callable[P, T]) -> Callable[P, T]:
    """Add --as-of and --known-on to a command that only looks; its view and its day become those of another day."""
    command = click.option(
        "--known-on",
        metavar="DAY",
        expose_value=False,
        callback=_known_on,
        help="As the book stood at the end of this day.",
    )(command)
    return click.option(
        "--as-of",
        metavar="DAY",
        expose_value=False,
        callback=_as_of,
        help="As things were on this day, by what is known now.",
    )(command)


def known_on_option(command: Callable[P, T]) -> Callable[P, T]:
    """Add --known-on, by its other name too, to a list of what was entered, for which both are the same."""
    return click.option(
        "--known-on",
        "--as-of",
        metavar="DAY",
        expose_value=False,
        callback=_known_on,
        help="As the book stood at the end of this day.",
    )(command)


def _as_of(ctx: click.Context, param: click.Parameter, value: str | None) -> None:  # noqa: ARG001  click's signature
    if value is not None:
        face: Face = ctx.obj
        face.look_back(as_of=_day(value, face, "--as-of"))


def _known_on(ctx: click.Context, param: click.Parameter, value: str | None) -> None:  # noqa: ARG001  click's signature
    if value is not None:
        face: Face = ctx.obj
        face.look_back(known_on=_day(value, face, "--known-on"))


def _day(text: str, face: Face, option: str) -> date:
    """Return the day of an option, which has come."""
    from collection.acts.days import day_ahead
    from collection.errors import Refused

    day = day_ahead(text, option)
    if day > face.present:
        today = face.present.isoformat()
        raise Refused(f"{option} {day} has not come yet (today is {today}).", "Type today or an earlier day.")
    return day
