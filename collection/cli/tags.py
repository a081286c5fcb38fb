"""Tags and names on the command line: a shell offers those of the book in use."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from collection.cli.face import default_location

if TYPE_CHECKING:
    from collection.views.tag_hits import Named


def complete_tag(
    ctx: click.Context,
    param: click.Parameter,  # noqa: ARG001  click hands it over
    incomplete: str,
) -> list[str]:
    """Return the tags of the book in use that begin with what was typed; for `shell_complete` of an argument."""
    from collection.views.tag_hits import tags_beginning

    file = _book(ctx)
    return tags_beginning(file, incomplete) if file else []


class CompleteName:
    """Offers the names of one kind of thing of the book in use, as `complete_tag` offers tags."""

    def __init__(self, what: Named) -> None:
        self.what = what

    def __call__(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG002
        """Return the names that begin with what was typed."""
        from collection.views.tag_hits import names_beginning

        file = _book(ctx)
        return names_beginning(file, self.what, incomplete) if file else []


complete_supply = CompleteName("supply")
complete_procedure = CompleteName("procedure")
complete_measurement = CompleteName("measurement")
complete_instrument = CompleteName("instrument")


def _book(ctx: click.Context) -> Path | None:
    """Return the file that the line being typed speaks of, None for a book on a server."""
    location = ctx.find_root().params.get("db") or default_location()
    return None if "://" in location else Path(location).expanduser()
