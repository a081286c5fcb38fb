"""demo: the whole main job on the book of an invented club."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from collection.cli.face import Face, data_folder
from collection.cli.show import progress, say
from collection.errors import path_typed

_FILE = "demo.sqlite3"
_MONTH = 30


@click.command("demo")
@click.pass_context
def demo_command(ctx: click.Context) -> None:
    """Build the book of an invented club and walk through it.

    The book stands in a file of its own, or in the new file that --db names. Running it again makes it anew; a file
    that the demo did not make is left alone.
    """
    from collection.acts.demo import SERVICE, SERVICED, build_demo
    from collection.acts.service_record import record_service
    from collection.cli.due import due_command
    from collection.cli.reorder import reorder_command
    from collection.cli.service import carry_out
    from collection.cli.stock import stock_command
    from collection.exchange.demo_folder import DEMO_NAME, demo_import

    place = _place(ctx.obj)
    face = replace(ctx.obj, db=str(place))
    ctx.obj = face
    with progress("building the book") as tick:
        build_demo(place, DEMO_NAME, demo_import(face.today), today=face.today, now=face.now, tick=tick)
    say(f"{DEMO_NAME}: its book stands in {place}", "Makers, models, people, readings and checks are made up.", "")
    _headline(f"spindlebook service record {SERVICED} (its overdue work)")
    carry_out(face, SERVICED, record_service, SERVICE, as_json=False)
    lists: tuple[tuple[str, click.Command, dict[str, int]], ...] = (
        ("due", due_command, {"within": _MONTH}),
        ("stock", stock_command, {}),
        ("reorder", reorder_command, {}),
    )
    for title, command, given in lists:
        say("")
        _headline(f"spindlebook {title}")
        ctx.invoke(command, **given)
    say("", f"Go on looking: spindlebook --db {path_typed(place)} unit show D3")
    face.close()


def _headline(command: str) -> None:
    say(f"--- {command}", bold=True)


def _place(face: Face) -> Path:
    """A file of the demo's own, unless --db names one; never a database on a server."""
    from collection.errors import Refused
    from collection.store.engine import book_url

    if face.db is None:
        return data_folder() / _FILE
    url = book_url(face.db)
    if url.get_backend_name() != "sqlite":
        raise Refused("The demo makes its book in a file, not on a server.", "Type: spindlebook --db FILE demo")
    return Path(str(url.database))
