"""What happened to units, out of a person's own table: services with readings and uses, faults, loans, valuations."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache

from collection.acts.bring_in.parse import sentence
from collection.analysis.measures import GRADED
from collection.analysis.written.amounts import Amount, read_amounts
from collection.analysis.written.values import read_reading
from collection.analysis.written.work import split_work
from collection.errors import Refused, fold
from collection.exchange.sheets_book import BookFacts, KnownSupplies
from collection.exchange.sheets_cells import put_day, put_price, put_read, read_minutes
from collection.exchange.sheets_rows import Gathered, Made, Source
from collection.quantity import convert, show_number
from collection.schema.measurement import GRADES

OWN_RECORDS = "own records"
BASIS = "own estimate"
_STAGES = {"as_found": "as found", "as_left": "as left", "between": "between"}
_LACKING = {
    "service.": "the day of the service is not told",
    "reading.": "the day of the reading is not told",
    "fault.": "a fault needs its symptom and the day it was noticed",
    "loan.": "a loan needs who has it, the day it went and the day it is due back",
    "valuation.": "a valuation needs its sum and its day",
}
_SERVICE_DAYS = ("service.opened_on", "service.closed_on")


_split = lru_cache(maxsize=16384)(split_work)


@dataclass
class EventRows:
    """Makes the rows of services, readings, uses, faults, loans and valuations."""

    gathered: Gathered
    facts: BookFacts
    supplies: KnownSupplies
    _services: dict[tuple[str, str], int] = field(default_factory=dict)
    _loans: dict[tuple[str, str], int] = field(default_factory=dict)

    def of_unit(self, source: Source, tag: str) -> None:
        """Make what a row of a list of units tells besides; what has no day of its own stays for the unit's note."""
        if source.has(*_SERVICE_DAYS):
            self.service(source, tag)
        elif source.has("readings.taken_on") and source.fields("reading."):
            self.readings_of_a_day(source, tag)
        if source.has("fault.symptom") and source.has("fault.noticed_on"):
            self.fault(source, tag)
        if all(map(source.has, ("loan.person", "loan.out_on", "loan.due_on"))):
            self.loan(source, tag)
        if source.has("valuation.amount") and source.has("valuation.valued_on"):
            self.valuation(source, tag)
        for prefix, why in _LACKING.items():
            for name in source.fields(prefix):
                source.reasons |= {at: why for at in source.places[name] if at not in source.reasons}

    def service(self, source: Source, tag: str, at: int | None = None) -> Made:
        """Make a service with its readings and uses."""
        made = self._begin("services.csv", source, tag, at)
        opened = put_day(made, "opened_on", "service.opened_on", self.facts)
        closed = put_day(made, "closed_on", "service.closed_on", self.facts)
        if closed and not opened and not source.has("service.opened_on"):
            opened = closed
            made.cells["opened_on"] = closed
            made.origin["opened_on"] = made.origin["closed_on"]
        made.cells["closed_on"] = closed or opened
        name = self._name(self._services, tag, closed or opened or f"row {source.number}").removeprefix(f"{tag} ")
        made.cells["service"] = name
        made.text("findings", "service.findings")
        made.text("reason", "service.reason")
        made.text("outcome", "service.outcome")
        made.text("by", "service.by")
        put_read(made, "minutes", "service.minutes", read_minutes)
        self._work(made)
        if made.cells["closed_on"]:
            self._readings(made, tag, name)
            self._uses(made, tag, name)
        return made

    def fault(self, source: Source, tag: str, at: int | None = None) -> Made:
        """Make a fault."""
        made = self._begin("faults.csv", source, tag, at)
        put_day(made, "noticed_on", "fault.noticed_on", self.facts)
        put_day(made, "closed_on", "fault.closed_on", self.facts)
        for column in ("symptom", "cause", "cure", "by"):
            made.text(column, f"fault.{column}")
        at_when = source.peek("fault.circumstances")
        if at_when is not None:
            made.add_note("symptom", f"when: {source.seen(at_when).strip()}", at_when)
        return made

    def loan(self, source: Source, tag: str, at: int | None = None) -> Made:
        """Make a loan of one unit."""
        made = self._begin("loans.csv", source, tag, at)
        out = put_day(made, "out_on", "loan.out_on", self.facts)
        put_day(made, "due_on", "loan.due_on", self.facts)
        put_day(made, "back_on", "loan.back_on", self.facts)
        made.cells["loan"] = self._name(self._loans, tag, out or f"row {source.number}")
        for column in ("person", "purpose", "condition_out", "condition_back"):
            made.text(column, f"loan.{column}")
        if source.table.holds == "loans" and not made.cells.get("condition_out"):
            made.text("condition_out", "units.condition")
        put_price(made, "deposit", "loan.deposit", self.facts)
        return made

    def valuation(self, source: Source, tag: str, at: int | None = None) -> Made:
        """Make a valuation."""
        made = self._begin("valuations.csv", source, tag, at)
        put_day(made, "valued_on", "valuation.valued_on", self.facts)
        put_price(made, "amount", "valuation.amount", self.facts, "valuation.currency")
        made.cells.setdefault("currency", self.facts.currency)
        if not made.text("basis", "valuation.basis"):
            made.put("basis", BASIS)
            made.doubt("basis", f'on what basis is not told: taken as "{BASIS}"')
        made.text("by", "valuation.by")
        made.text("evidence", "valuation.evidence")
        return made

    def reading(self, source: Source, tag: str, at: int | None = None) -> Made:
        """Make a reading out of a list of readings, one a row, or the first of those in columns of their own."""
        if not source.has("readings.value") and source.fields("reading.") and source.has("readings.taken_on"):
            before = len(self.gathered.of("readings.csv"))
            self.readings_of_a_day(source, tag)
            made_here = self.gathered.of("readings.csv")[before:]
            if made_here:
                for each in made_here:
                    each.put("tag", tag, at)
                return made_here[0]
        made = self._begin("readings.csv", source, tag, at)
        put_day(made, "taken_on", "readings.taken_on", self.facts)
        for column in ("measurement", "point", "stage", "measured_in", "disk", "supply_unit", "load"):
            made.text(column, f"readings.{column}")
        made.text("warm_up_minutes", "readings.warm_up_minutes")
        made.cells.setdefault("stage", "between")
        self._value(made, source.peek("readings.value"), "")
        self._instrument(made, made.cells.get("measurement", ""))
        return made

    def _begin(self, file: str, source: Source, tag: str, at: int | None) -> Made:
        made = self.gathered.add(file, source, tag=tag)
        if at is not None:
            made.put("tag", tag, at)
        return made

    def _name(self, given: dict[tuple[str, str], int], tag: str, day: str) -> str:
        """Return a name that ties rows together: tag and day, with a number where there are several."""
        number = given[tag, day] = given.get((tag, day), 0) + 1
        return f"{tag} {day}" + (f" ({number})" if number > 1 else "")

    def _work(self, made: Made) -> None:
        """Name the procedures done; words that name none go to the findings."""
        done: list[str] = []
        for name in ("service.work", "service.parts"):
            at = made.source.peek(name)
            if at is None:
                continue
            for piece in _split(made.source.seen(at), tuple(self.facts.procedures)):
                if piece.procedure is not None and piece.procedure not in done:
                    done.append(piece.procedure)
                if piece.procedure is None or piece.doubt:
                    made.add_note("findings", piece.words)
                rule = piece.doubt or f'"{piece.words}" names no procedure of the book; kept in the findings'
                if piece.procedure is None or piece.doubt:
                    made.doubt("findings", rule, at)
            made.put("procedures", "; ".join(done), at)

    def _readings(self, made: Made, tag: str, service: str) -> None:
        """Make the readings of a service that stand in columns of their own."""
        for name in made.source.fields("reading."):
            reading = self._one_reading(made.source, tag, made.cells["closed_on"], name, service)
            reading.origin["taken_on"] = _day_of(made)

    def readings_of_a_day(self, source: Source, tag: str) -> None:
        """Make readings that belong to no service, all of the day that the row names."""
        dated = Made(source, {})
        day = put_day(dated, "taken_on", "readings.taken_on", self.facts)
        for number, name in enumerate(source.fields("reading.")):
            made = self._one_reading(source, tag, day, name, "")
            made.origin |= dated.origin
            made.said += [] if number else dated.said

    def _one_reading(self, source: Source, tag: str, day: str, name: str, service: str) -> Made:
        stage, _, measured = name.removeprefix("reading.").partition(":")
        measurement, _, point = measured.partition(":")
        row = {"tag": tag, "measurement": measurement, "point": point, "taken_on": day, "service": service}
        if stage == "between" and service:
            stage = "as_left"
        made = Made(source, {**row, "stage": _STAGES[stage]})
        if self._value(made, source.peek(name), measurement):
            self._instrument(made, measurement)
            self.gathered.keep("readings.csv", made)
        return made

    def _value(self, made: Made, at: int | None, measurement: str) -> bool:
        """Fill in what was read; what is no reading of the measurement stays for the note."""
        if at is None:
            return False
        try:
            read = read_reading(made.source.seen(at))
        except Refused as refusal:
            made.source.reasons[at] = sentence(refusal, made.source.seen(at))
            return False
        measured_in = self.facts.measured_in.get(fold(measurement))
        if measured_in is not None and (measured_in == GRADED) != (read.value in GRADES):
            takes = "pass, marginal or fail" if measured_in == GRADED else "a number"
            made.source.reasons[at] = f"{measurement} takes {takes}"
            return False
        made.put("value", read.value, at)
        if read.unit:
            made.cells["measured_in"] = read.unit
        made.doubt("value", read.doubt, at)
        return True

    def _instrument(self, made: Made, measurement: str) -> None:
        """Name the instrument, one of the book's own records where the sheet names none."""
        at = next(iter(made.source.places.get("readings.instrument", ())), None)  # of every reading of the row
        name = "" if at is None else made.source.seen(at).strip()
        made.put("instrument", name, at)
        rule = "no such instrument yet: made for these readings"
        if not name:
            name = made.cells["instrument"] = OWN_RECORDS
            rule = f'with what it was read is not told: taken as "{OWN_RECORDS}"'
        key = (fold(name), fold(measurement))
        if fold(measurement) in self.facts.measured_in and key not in self.facts.instruments:
            self.facts.instruments.add(key)
            row = self.gathered.add("instruments.csv", made.source, instrument=name, measurement=measurement)
            row.origin["instrument"] = made.origin.get("instrument", [])
            row.doubt("instrument", rule)

    def _uses(self, made: Made, tag: str, service: str) -> None:
        """Make the uses of supplies; what is no amount of a supply goes to the findings."""
        at = made.source.peek("service.used")
        if at is None:
            return
        made.source.used.add(at)
        try:
            amounts = read_amounts(made.source.seen(at))
        except Refused as refusal:
            made.add_note("findings", made.source.seen(at).strip(), at)
            made.doubt("findings", f"{sentence(refusal, made.source.seen(at))}; kept in the findings", at)
            return
        kept = False
        for amount in amounts:
            supply, doubt = self.supplies.find(amount.words) if amount.words else ("", "")
            row = self.supplies.rows.get(fold(supply), {})
            quantity = quantity_in(amount, row.get("measured_in", ""), row.get("density", "")) if supply else ""
            if not quantity:
                words = " ".join(part for part in (amount.number, amount.unit, amount.words) if part)
                why = amount.doubt or doubt or f'"{words}" is no amount of {supply or "a supply"}'
                made.doubt("findings", f"{why}; kept in the findings", at)
                kept = True
                continue
            use = self.gathered.add("uses.csv", made.source, supply=supply, service=service, tag=tag)
            use.put("used_on", made.cells["closed_on"])
            use.put("quantity", quantity, at)
            use.origin |= {"supply": [at], "used_on": _day_of(made)}
            use.doubt("supply", "; ".join(filter(None, (doubt, amount.doubt))), at)
        if kept:
            made.add_note("findings", f"used: {made.source.seen(at).strip()}", at)


def _day_of(service: Made) -> list[int]:
    """Return the columns that the day of a service came from."""
    return service.origin.get("closed_on") or service.origin.get("opened_on", [])


def quantity_in(amount: Amount, measured_in: str, density: str = "") -> str:
    """Return an amount, all packs together, in the unit of a supply; "" where it cannot be told."""
    if not amount.number:
        return ""
    total = Decimal(amount.number) * (amount.packs or 1)
    unit = amount.unit or measured_in
    try:
        exact = convert(total, unit, measured_in, Decimal(density) if density else None)
    except Refused:
        return ""
    return show_number(round(Decimal(exact.numerator) / Decimal(exact.denominator), 6))
