"""Whole numbers as a command line takes them, refused in words."""

from __future__ import annotations

from typing import Any

import click


class Whole(click.IntRange):
    """A whole number, from `min` and up to `max` where they are given."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number. Raises BadParameter that says which are taken."""
        try:
            return int(super().convert(value, param, ctx))
        except click.BadParameter:
            self.fail(f"{str(value)!r} is no whole number{self._taken()}.", param, ctx)

    def _taken(self) -> str:
        if self.min is not None and self.max is not None:
            return f" from {_shown(self.min)} to {_shown(self.max)}"
        return "" if self.min is None else f" from {_shown(self.min)} on"

    def _describe_range(self) -> str:
        return self._taken().strip()


def _shown(limit: float) -> str:
    """Return a limit with commas from five digits on: one of four may be a year."""
    return f"{limit:,}" if limit >= 10_000 else str(limit)
