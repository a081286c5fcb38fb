"""Parts that are fitted: from a lot or from a donor unit, and what they take the place of."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from collection.acts.service_given import GivenPart
from collection.acts.service_supplies import Occasion, planned_by, supply_and_lot, take_supply
from collection.acts.wanted import settle_wanted
from collection.acts.work import Work
from collection.analysis.donor_parts import IN_PLACE, LOOSE, part_word
from collection.analysis.mechanisms import MECHANISM
from collection.analysis.needs import models_of, names_of_model
from collection.errors import NeedsReason, Refused, fold, typed
from collection.quantity import to_steps
from collection.store.engine import fetch
from collection.views.mechanisms import mechanisms
from collection.views.parts import own_part_of, taken_already
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
    doubts: tuple[str, ...] = ()


def fit_part(work: Work, occasion: Occasion, unit: Unit, given: GivenPart, anyway: str, note: str = "") -> int | None:
    """Fit a part into a unit and book it out of its lot; the part in its place is removed. Returns its supply.

    Raises Refused for unknown names, a supply that is not kept by the piece, a part that is in its place already,
    and, without a reason, for a donor that still works, is out or is lost, and a part that is not on it any more.
    """
    part = " ".join(given.part.split())
    if not part:
        raise Refused("Which part was fitted is not said.", 'Name it as "belt", "mechanism", "board", "head".')
    named = [text for text in (given.supply, given.donor, given.own_of) if text]
    if len(named) != 1:
        both = "both are" if named else "neither is"
        raise Refused(
            f'Part "{part}": it comes from a supply or from a donor, and {both} named.',
            f'Type --part "{part}=SUPPLY" or --part "{part} from TAG".',
        )
    if given.supply:
        source = _from_supply(work, occasion, unit, given)
    else:
        source = _from_unit(work, occasion, unit, given, anyway)
    until = _make_room(work, unit.id, part, occasion)
    part_id = work.insert(
        "fitted_part",
        unit_id=unit.id,
        part=part,
        fitted_on=occasion.on.text,
        removed_on=until,
        supply_id=source.supply_id,
        lot_id=source.lot_id,
        donor_id=source.donor_id,
        part_unit_id=source.part_unit_id,
        service_id=occasion.service_id,
        note=note or None,
    )
    for doubt in source.doubts:
        work.doubt("fitted_part", part_id, None, named[0], doubt)
    settle_wanted(work, unit.id, part, source.supply_id, occasion.on.text)
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
    return _Source(supply_id=supply.id, lot_id=lot_id, doubts=_misfit(work, supply, unit))


def _misfit(work: Work, supply: Supply, unit: Unit) -> tuple[str, ...]:
    fits = fetch(work.conn, "SELECT fits FROM supply WHERE id = :id", id=supply.id)[0][0] or ""
    models = models_of(fits)
    if not models or not models.isdisjoint(names_of_model(unit.maker, unit.model)):
        return ()
    listed = ", ".join(part.strip() for part in fits.split(";") if part.strip())
    return (f"it fits {listed}; {unit.tag} is {unit.maker} {unit.model}".replace("  ", " "),)


def _from_unit(work: Work, occasion: Occasion, unit: Unit, given: GivenPart, anyway: str) -> _Source:
    """Return a part that comes out of another unit, is one, or is the own part of a unit that lay loose."""
    donor = unit_on(work.conn, find_unit(work.conn, given.donor or given.own_of).id, occasion.on.first)
    if given.own_of or donor.id == unit.id or _is_swap(work, donor.id, unit.id, given.part, occasion):
        return _own_part(work, occasion, unit, donor, given.part)
    if fold(donor.kind) == fold(given.part):
        return _Source(part_unit_id=donor.id, doubts=_out_on_its_own(work, occasion, donor, given.part, anyway))
    missed = donor.standing in KEEPS_ITS_PARTS
    if missed and not anyway:
        raise NeedsReason(
            f"{donor.tag} is {donor.standing}: taking its {given.part} would leave it without one.",
            'Make it a donor first, or add --anyway "REASON".',
        )
    doubts = _not_there(work, occasion, donor, given.part, anyway)
    _make_room(work, donor.id, given.part, occasion)
    if missed:
        doubts = (f"{donor.tag} was {donor.standing} when it gave its {given.part}: {anyway}", *doubts)
    return _Source(donor_id=donor.id, doubts=doubts)


def _is_swap(work: Work, donor_id: int, unit_id: int, part: str, occasion: Occasion) -> bool:
    """Say whether two units swap mechanisms that day: then the donor's own is meant, not the one it has just got."""
    return part_word(part) == MECHANISM and mechanisms(work.conn).swapped(donor_id, unit_id, occasion.on.text)


def _out_on_its_own(work: Work, occasion: Occasion, donor: Unit, part: str, anyway: str) -> tuple[str, ...]:
    """Return the doubt of a unit that is the part and sits in another one. Raises NeedsReason without a reason."""
    where = own_part_of(work.conn, donor.id, part, occasion.on.text)
    if where in (IN_PLACE, LOOSE):
        return ()
    if not anyway:
        raise NeedsReason(f"{donor.tag} is fitted in {where}.", f'Type --donor {where}, or add --anyway "REASON".')
    return (f"{donor.tag} is fitted in {where}: {anyway}",)


def _not_there(work: Work, occasion: Occasion, donor: Unit, part: str, anyway: str) -> tuple[str, ...]:
    """Return the doubt of a part that was taken already. Raises NeedsReason for one without a reason."""
    gone = taken_already(work.conn, donor.id, part, occasion.on.text)
    if gone is None:
        return ()
    if not anyway:
        raise NeedsReason(
            f"The {part} of {donor.tag} {gone}.",
            f'See what is left: spindlebook part list {typed(donor.tag)}; or add --anyway "REASON".',
        )
    return (f"the {part} of {donor.tag} {gone}: {anyway}",)


def _own_part(work: Work, occasion: Occasion, unit: Unit, owner: Unit, part: str) -> _Source:
    """Return the part that a unit was built with and that lies loose. Raises Refused where it does not."""
    where = own_part_of(work.conn, owner.id, part, occasion.on.text)
    if where == LOOSE:
        return _Source(part_unit_id=owner.id)
    if where == IN_PLACE and owner.id == unit.id:
        raise Refused(f"{unit.tag} cannot be its own donor.", f'Type --part "{part} from TAG", or --donor TAG.')
    home = owner.tag if where == IN_PLACE else where
    raise Refused(f"The own {part} of {owner.tag} does not lie loose: it is in {home}.", f"Type --donor {home}")


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
        same_service = service_id is not None and service_id == occasion.service_id
        if part_word(name) != part_word(part) or same_service:
            continue
        if fitted_on > day:
            later = later or str(fitted_on)
        elif removed_on is None or removed_on > day:
            work.update("fitted_part", part_id, removed_on=day)
    return later
