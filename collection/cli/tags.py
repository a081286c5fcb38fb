"""Tags on the command line: a shell offers those of the book in use."""

from __future__ import annotations

import click

from collection.cli.face import default_location


def complete_tag(
    ctx: click.Context,
    param: click.Parameter,  # noqa: ARG001  click hands it over
    incomplete: str,
) -> list[str]:
    """Return the tags of the book in use that begin with what was typed; for `shell_complete` of an argument."""
    from pathlib import Path

    from collection.views.tag_hits import tags_beginning

    location = ctx.find_root().params.get("db") or default_location()
    return [] if "://" in location else tags_beginning(Path(location).expanduser(), incomplete)
