"""Options whose text is read by a parser of the program: what it refuses is a mistake in the command line."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

import click

from collection.errors import Refused

T = TypeVar("T")
Reads = Callable[[click.Context, click.Parameter, str], T]


def option_reader(read: Reads[T]) -> Callable[[click.Context, click.Parameter, str | None], T | None]:
    """Return the callback of an option that `read` reads; an option that was not given stays None."""

    @wraps(read)
    def callback(ctx: click.Context, param: click.Parameter, value: str | None) -> T | None:
        try:
            return None if value is None else read(ctx, param, value)
        except Refused as refusal:
            raise click.BadParameter(str(refusal), ctx, param) from None

    return callback


@option_reader
def days_ahead_given(ctx: click.Context, _param: click.Parameter, value: str) -> int:
    """Read a time ahead, as 60d, 8w or 2m, as days."""
    from collection.analysis.horizon import days_ahead

    return days_ahead(value, ctx.obj.today)
