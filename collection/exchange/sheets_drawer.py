"""Supplies, lots and counts out of a person's own list of what is in the drawer."""

from __future__ import annotations

from collection.acts.bring_in.parse import sentence
from collection.analysis.written.amounts import Amount, read_amounts
from collection.analysis.written.values import read_number
from collection.errors import Refused, fold
from collection.exchange.sheets_book import BookFacts, KnownSupplies, words_of
from collection.exchange.sheets_cells import put_day, put_price, put_read
from collection.exchange.sheets_events import quantity_in
from collection.exchange.sheets_rows import Gathered, Made, Source, with_note
from collection.quantity import unit_of

# What a supply is by the words of its name. Common practice, no source.
_KINDS = {
    "belt": "belt riemen", "lubricant": "grease oil lube lubricant fett öl", "swab": "swab swabs stäbchen",
    "solvent": "alcohol isopropyl ipa solvent cleaner alkohol isopropanol", "cloth": "cloth cloths wipe wipes tuch",
    "packing": "bag bags box tag tags sachet sachets",
}  # fmt: skip
_KIND_OF = {word: kind for kind, words in _KINDS.items() for word in words.split()}
_OTHER = "spare"
_TEXTS = ("size", "fits", "strength")


class DrawerRows:
    """Makes the rows of supplies.csv, lots.csv, suppliers.csv."""

    def __init__(self, gathered: Gathered, facts: BookFacts, supplies: KnownSupplies) -> None:
        self._gathered, self._facts, self._supplies = gathered, facts, supplies
        self._made: dict[str, Made] = {}
        self._lots: dict[tuple[str, str], int] = {}

    def row(self, source: Source) -> bool:
        """Make what a row tells; says whether it names a supply."""
        at = source.peek("supplies.supply")
        if at is None:
            return False
        amount = self._amount(source)
        supply = self._supply(source, at, amount)
        name = fold(supply.cells["supply"])
        lot = self._lot(source, supply, amount) if amount is not None else None
        first = self._made[name]
        if lot is not None:  # a supply that the book has says nothing, its lot does
            lot.said += [said for said in supply.said if said.column == "supply"]
            supply.said = [said for said in supply.said if said.column != "supply"]
        elif fold(source.seen(at)) != name:
            supply.add_note("note", f"also called: {source.seen(at).strip()}", at)
        if first is supply:
            supply.keep_rest("note", self._facts.supplies.get(name, {}).get("note", ""))
            return True
        supply.keep_rest("note")
        first.cells["note"] = with_note(first.cells.get("note", ""), supply.cells.get("note", ""))
        if lot is not None:
            lot.said += [said._replace(column="supply") for said in supply.said]
        return True

    def _amount(self, source: Source) -> Amount | None:
        """Return how much there is, or None where no single amount is told."""
        at = source.peek("lots.quantity")
        if at is None:
            return None
        try:
            amounts = read_amounts(source.seen(at))
        except Refused as refusal:
            source.reasons[at] = sentence(refusal, source.seen(at))
            return None
        if len(amounts) != 1 or not amounts[0].number:
            source.reasons[at] = amounts[0].doubt if len(amounts) == 1 else "is not one amount"
            return None
        return amounts[0]

    def _supply(self, source: Source, at: int, amount: Amount | None) -> Made:
        """Return the row of a supply; one that the book or the workbook has is taken up again."""
        name, doubt = self._supplies.find(source.seen(at).strip())
        name = name or source.seen(at).strip()
        made = Made(source, {"supply": name})
        made.origin["supply"] = [at]
        source.used.add(at)
        if fold(name) in self._supplies.rows:
            made.doubt("supply", doubt, at)
        self._describe(made, name, amount)
        first = self._made.setdefault(fold(name), made)
        if first is made:
            self._gathered.keep("supplies.csv", made)
        self._agree(made, first.cells if first is not made else self._facts.supplies.get(fold(name), {}))
        self._supplies.rows.setdefault(fold(name), made.cells)
        return made

    def _describe(self, made: Made, name: str, amount: Amount | None) -> None:
        """Fill in kind, unit of measure and the rest; a supply of the book keeps what it has."""
        had = self._facts.supplies.get(fold(name))
        made.text("kind", "supplies.kind")
        unit_at = made.source.peek("supplies.measured_in")
        unit = amount.unit if amount is not None else ""
        if unit_at is not None:
            try:
                told = unit_of(made.source.seen(unit_at).strip()).symbol
                made.source.used.add(unit_at)
                unit = unit or told
            except Refused as refusal:
                made.source.reasons[unit_at] = sentence(refusal, made.source.seen(unit_at))
        for column in _TEXTS:
            made.text(column, f"supplies.{column}")
        put_read(made, "shelf_life_months", "supplies.shelf_life_months", read_number)
        if had is not None:
            made.cells |= {"measured_in": had["measured_in"], "kind": made.cells.get("kind") or had["kind"]}
            return
        made.cells["measured_in"] = unit or "piece"
        if not made.cells.get("kind"):
            kind = next((_KIND_OF[word] for word in fold(name).split() if word in _KIND_OF), _OTHER)
            made.put("kind", kind)
            made.doubt("kind", f"its kind is not told: taken as {kind}", made.origin["supply"][0])

    def _agree(self, made: Made, had: dict[str, str]) -> None:
        """Leave for the note what contradicts what was told of a supply before."""
        for column in ("kind", *_TEXTS):
            places = made.origin.get(column, [])
            if places and had.get(column) and had[column] != made.cells[column]:
                made.source.used.discard(places[0])
                made.source.reasons[places[0]] = f"the {column} of this supply is {had[column]}"
                made.cells[column] = had[column]

    def _lot(self, source: Source, supply: Made, amount: Amount) -> Made | None:
        """Make the lot that a row tells of; None where its amount does not fit the supply."""
        at = source.peek("lots.quantity")
        name = supply.cells["supply"]
        known = self._supplies.rows[fold(name)]
        quantity = quantity_in(amount, known["measured_in"], known.get("density", ""))
        if at is None or not quantity:
            if at is not None:
                source.reasons[at] = f"the supply is measured in {known['measured_in']}"
            return None
        made = self._gathered.add("lots.csv", source, supply=name)
        made.origin["supply"] = supply.origin["supply"]
        made.put("quantity", quantity, at)
        made.doubt("quantity", amount.doubt, at)
        if not words_of(amount.words) <= words_of(name):
            made.doubt("quantity", f'"{amount.words}" beside the amount is left out', at)
        if not made.text("lot", "lots.lot"):
            number = self._lots[source.sheet, name] = self._lots.get((source.sheet, name), 0) + 1
            made.cells["lot"] = f"{source.sheet} {number}"
        had = self._facts.lots.get((fold(name), fold(made.cells["lot"])))
        if had is not None and had["quantity"] != quantity:
            self._count(made, had, at)
        self._days(made, had)
        put_price(made, "price", "lots.price", self._facts)
        self._supplier(made)
        return made

    def _count(self, made: Made, had: dict[str, str], at: int) -> None:
        """Let another quantity of a lot that the book has be a count of today."""
        row = self._gathered.add("counts.csv", made.source, supply=had["supply"], lot=had["lot"])
        row.put("quantity", made.cells["quantity"], at)
        row.put("counted_on", self._facts.today.isoformat())
        row.doubt("quantity", f"the lot came with {had['quantity']}: taken as counted today", at)
        made.cells["quantity"] = had["quantity"]

    def _days(self, made: Made, had: dict[str, str] | None) -> None:
        """Fill in the days of a lot; one whose coming is not told came when it was opened, else today."""
        put_day(made, "expires_on", "lots.expires_on", self._facts)
        opened = put_day(made, "opened_on", "lots.opened_on", self._facts)
        made.text("made", "lots.made")
        if put_day(made, "received_on", "lots.received_on", self._facts) or any(
            said.kind == "refused" and said.column == "received_on" for said in made.said
        ):
            return
        made.cells["received_on"] = (had or {}).get("received_on") or opened or self._facts.today.isoformat()
        if had is None:
            made.doubt("received_on", f"when it came is not told: taken as {made.cells['received_on']}")

    def _supplier(self, made: Made) -> None:
        """Name who sent a lot; one that is nowhere listed becomes new."""
        name = made.text("supplier", "lots.supplier")
        if name and fold(name) not in self._facts.suppliers:
            self._facts.suppliers.add(fold(name))
            row = self._gathered.add("suppliers.csv", made.source, supplier=name)
            row.origin["supplier"] = made.origin["supplier"]
            row.doubt("supplier", "no such supplier yet: made for this lot", made.origin["supplier"][0])
