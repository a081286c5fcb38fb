"""model: list, show and change models."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, output_options, plain, say, say_pairs

if TYPE_CHECKING:
    from collection.views.models import Model


@click.group("model")
def model_group() -> None:
    """List, show and change models."""


@model_group.command("list")
@click.option("--kind", default="", metavar="WORD", help="Only models of this kind: drive, supply unit ...")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, kind: str, sort: str, mode: Mode) -> None:
    """List models.

    Keys of --json: model, maker, kind, drive_type, nominal_speed, speed_adjustable, media, supply_inside,
    replacement_value, currency, note, units (how many the book has).
    """
    from collection.views.models import model_list

    with face.view() as conn:
        rows = [_object(model) for model in model_list(conn)]
    emit(in_order(naming(rows, kind=kind), _COLUMNS, sort), _COLUMNS, mode, empty="No model is in the book.")


@model_group.command("show")
@click.argument("model")
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, model: str, as_json: bool) -> None:
    """Show what the book has on a model, and its units.

    The keys of --json stand in docs/json-keys.md.
    """
    from collection.views.models import find_model, tags_of_model

    with face.view() as conn:
        found = find_model(conn, model)
        tags = tags_of_model(conn, found.id)
    if as_json:
        emit_object(_object(found) | {"tags": tags})
        return
    say(found.full_name, bold=True)
    said = _object(found) | {"units": tags}
    if found.replacement is not None:
        said["replacement_value"] = f"{said['replacement_value']} {said.pop('currency')}"
    say_pairs([(key.replace("_", " "), plain(value)) for key, value in said.items() if key not in ("model", "maker")])


@model_group.command("edit")
@click.argument("model")
@field_options(
    ("name", "TEXT", "Another name."),
    ("maker", "TEXT", "Its maker."),
    ("kind", "WORD", "drive, mechanism, supply unit, computer, test gear ..."),
    ("drive-type", "WORD", "belt, direct adjustable, direct crystal, AC motor, unknown."),
    ("nominal-speed", "NUMBERS", "r/min, several by ;"),
    ("speed-adjustable", "yes|no", "Whether its speed can be set."),
    ("media", "TEXT", "What it reads."),
    ("supply-inside", "yes|no", "Whether its power supply is built in."),
    ("replacement-value", "AMOUNT", 'What another one costs, as 80 or "80 EUR".'),
    ("note", "TEXT", "Anything else."),
    named={"name": "renamed"},
)
@click.pass_obj
def edit_command(face: Face, /, model: str, renamed: str | None, reason: str, **told: Any) -> None:
    """Change what a model says.

    Kind, drive type and nominal speeds decide about limits and procedures, and need a --reason. An empty text takes a
    value away.
    """
    from collection.acts.records import edit_model

    given = given_of({"model": renamed, **told})
    tell_edited(edit_model(face.engine(), model, given, reason=reason, today=face.today, now=face.now))


def _object(model: Model) -> dict[str, Any]:
    return {
        "model": model.name,
        "maker": model.maker or None,
        "kind": model.kind,
        "drive_type": model.drive_type,
        "nominal_speed": model.nominal_speeds,
        "speed_adjustable": model.speed_adjustable,
        "media": model.media,
        "supply_inside": model.supply_inside,
        "replacement_value": model.replacement and model.replacement.text,
        "currency": model.replacement and model.replacement.currency,
        "note": model.note,
        "units": model.units,
    }


_COLUMNS = (
    Column("model"),
    Column("maker"),
    Column("kind"),
    Column("drive_type"),
    Column("nominal_speed", "r/min"),
    Column("speed_adjustable", in_table=False),
    Column("media", in_table=False),
    Column("supply_inside", in_table=False),
    Column("replacement_value", "worth", right=True),
    Column("currency", " "),
    Column("note", in_table=False),
    Column("units"),
)
