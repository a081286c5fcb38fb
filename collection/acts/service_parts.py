"""Parts that a service fits: from a lot or from a donor unit, and what they take the place of."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from collection.acts.service_given import GivenPart
from collection.acts.service_supplies import Occasion, planned_by, supply_and_lot, take_supply
from collection.acts.work import Work
from collection.analysis.needs import models_of, names_of_model
from collection.errors import NeedsReason, Refused, fold
from collection.quantity import to_steps
from collection.store.engine import fetch
from collection.views.supplies import Supply, find_lot
from collection.views.units import Unit, find_unit, unit_on

KEEPS_ITS_PARTS = ("ready", "in use", "on loan", "missing", "gone")


@dataclass(frozen=True, slots=True)
class _Source:
    """Where a part came from: the columns that say so, and what is doubtful about it."""

    supply_id: int | None = None
    lot_id: int | None = None
    donor_id: int | None = None
    part_unit_id: int | None = None
    doubt: str = ""


def fit_part(work: Work, occasion: Occasion, unit: Unit, given: GivenPart, anyway: str) -> int | None:
    """Fit a part into a unit and book it out of its lot; the part in its place is removed. Returns its supply.

    Raises Refused for unknown names, a supply that is not kept by the piece, a unit that would be its own
    donor, and, without a reason, for a donor that still works, is out or is lost.
    """
    if bool(given.supply) == bool(given.donor):
        raise Refused(
            f'Part "{given.part}": it comes from a supply or from a donor, and '
            + ("both are named." if given.donor else "neither is named."),
            f'Type --part "{given.part}=SUPPLY" or --part "{given.part} from TAG".',
        )
    if given.donor:
        source = _from_donor(work, occasion, unit, given, anyway)
    else:
        source = _from_supply(work, occasion, unit, given)
    until = _make_room(work, unit.id, given.part, occasion)
    part_id = work.insert(
        "fitted_part",
        unit_id=unit.id,
        part=given.part,
        fitted_on=occasion.on.text,
        removed_on=until,
        supply_id=source.supply_id,
        lot_id=source.lot_id,
        donor_id=source.donor_id,
        part_unit_id=source.part_unit_id,
        service_id=occasion.service_id,
    )
    if source.doubt:
        work.doubt("fitted_part", part_id, None, given.supply or given.donor, source.doubt)
    return source.supply_id


def _from_supply(work: Work, occasion: Occasion, unit: Unit, given: GivenPart) -> _Source:
    supply, lot_name = supply_and_lot(work.conn, given.supply, given.lot)
    if supply.measured_in != "piece":
        raise Refused(
            f'A part is taken by the piece, and "{supply.name}" is kept in {supply.measured_in}.',
            f'Book it as --used "{supply.name}=AMOUNT {supply.measured_in}".',
        )
    lot_id = find_lot(work.conn, supply, lot_name).id if lot_name else None
    if supply.tracked == "count":
        one = to_steps(Decimal(1), "piece", "piece", supply.step)
        planned, procedure_id = planned_by(work.conn, occasion, supply)
        taken = take_supply(
            work,
            occasion,
            supply,
            one,
            basis="measured",
            planned=planned,
            procedure_id=procedure_id,
            entered=("1", "piece"),
            lot_id=lot_id,
        )
        lot_id = lot_id if lot_id is not None else taken
    return _Source(supply_id=supply.id, lot_id=lot_id, doubt=_misfit(work, supply, unit))


def _misfit(work: Work, supply: Supply, unit: Unit) -> str:
    fits = fetch(work.conn, "SELECT fits FROM supply WHERE id = :id", id=supply.id)[0][0] or ""
    models = models_of(fits)
    if not models or not models.isdisjoint(names_of_model(unit.maker, unit.model)):
        return ""
    listed = ", ".join(part.strip() for part in fits.split(";") if part.strip())
    return f"it fits {listed}; {unit.tag} is {unit.maker} {unit.model}".replace("  ", " ")


def _from_donor(work: Work, occasion: Occasion, unit: Unit, given: GivenPart, anyway: str) -> _Source:
    donor = unit_on(work.conn, find_unit(work.conn, given.donor).id, occasion.on.first)
    if donor.id == unit.id:
        raise Refused(f"{unit.tag} cannot be its own donor.", f'Type --part "{given.part} from TAG".')
    is_the_part = fold(donor.kind) == fold(given.part)
    missed = donor.standing in KEEPS_ITS_PARTS and not is_the_part
    if missed and not anyway:
        raise NeedsReason(
            f"{donor.tag} is {donor.standing}: taking its {given.part} would leave it without one.",
            'Make it a donor first, or add --anyway "REASON".',
        )
    if is_the_part:
        return _Source(part_unit_id=donor.id)
    _make_room(work, donor.id, given.part, occasion)
    doubt = f"{donor.tag} was {donor.standing} when it gave its {given.part}: {anyway}" if missed else ""
    return _Source(donor_id=donor.id, doubt=doubt)


def _make_room(work: Work, unit_id: int, part: str, occasion: Occasion) -> str | None:
    """Remove the part of that kind that was in its place; return when a later one took the place, if one did.

    Parts fitted in this same service stay: a unit may have two of a kind.
    """
    sql = (
        "SELECT id, part, fitted_on, removed_on, service_id FROM fitted_part"
        " WHERE unit_id = :unit AND void = 0 ORDER BY fitted_on, id"
    )
    day, later = occasion.on.text, None
    for part_id, name, fitted_on, removed_on, service_id in fetch(work.conn, sql, unit=unit_id):
        if fold(name) != fold(part) or service_id == occasion.service_id:
            continue
        if fitted_on > day:
            later = later or str(fitted_on)
        elif removed_on is None or removed_on > day:
            work.update("fitted_part", part_id, removed_on=day)
    return later
