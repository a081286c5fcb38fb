"""Units out of a person's own table: known again by tag, or by model and serial; one without a tag is proposed one."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation

from collection.analysis.written.values import Read, read_drive_type, read_kind, read_number, read_standing
from collection.errors import fold
from collection.exchange.sheets_book import BookFacts, KnownUnits
from collection.exchange.sheets_cells import put_day, put_price, put_read
from collection.exchange.sheets_rows import Gathered, Made, Source

UNKNOWN_MODEL = "unknown drive"
_WORKS = dict.fromkeys(("yes", "y", "ja", "x", "\N{CHECK MARK}"), "ready")
_WORKS |= dict.fromkeys(("no", "n", "nein"), "awaiting parts")
_TEXTS = ("condition", "marks", "jumpers", "rom", "modifications", "accessories")
_COMPARED = ("acquired_on", "acquired_from", "price", "condition", "marks", "accessories")


class UnitRows:
    """Makes the rows of models.csv and units.csv."""

    def __init__(self, gathered: Gathered, facts: BookFacts, known: KnownUnits) -> None:
        self._gathered, self._facts, self._known = gathered, facts, known
        self._models: dict[tuple[str, str], Made] = {}
        self.proposed: dict[str, list[str]] = {}
        self._reserved = set(facts.tags)
        self._makers: dict[str, list[str]] = {}
        for row in facts.models.values():
            self._makers.setdefault(fold(row["model"]), []).append(row["maker"])
        self._alike: dict[tuple[str, str, str], list[dict[str, str]]] = {}
        for row in facts.units.values():
            key = (fold(row["maker"]), fold(row["model"]), fold(row["serial"]))
            self._alike.setdefault(key, []).append(row)

    def look_over(self, sources: Sequence[Source]) -> None:
        """Keep the tags that the tables give themselves from being proposed, and learn who makes which model."""
        for source in sources:
            tag, model, maker = map(source.peek, ("units.tag", "models.model", "models.maker"))
            if tag is not None:
                self._reserved.add(fold(source.seen(tag)))
            if model is not None and maker is not None:
                self._makers.setdefault(fold(source.seen(model)), []).append(source.seen(maker).strip())

    def begin(self, source: Source) -> Made | None:
        """Return the row of a unit, without what is left for its note; None where a row names no unit."""
        if not source.has("units.tag", "units.serial", "models.model", "models.maker"):
            return None
        made = self._gathered.add("units.csv", source)
        tag = made.text("tag", "units.tag")
        had = self._facts.units.get(fold(tag), {}) if tag else {}
        made.text("serial", "units.serial")
        kind = self._model(made, had)
        self._facts_of_unit(made)
        if not tag:
            made.cells["kind"] = kind
        return made

    def finish(self, made: Made) -> None:
        """Fill in the note: what of the row was put nowhere."""
        made.cells.pop("kind", None)
        made.keep_rest("note", self._facts.units.get(fold(made.cells["tag"]), {}).get("note", ""))

    def tag_now(self, made: Made) -> str:
        """Return the tag of a unit row, giving it one where the sheet has none."""
        if not made.cells.get("tag"):
            made.cells["tag"] = self._again(made) or self._propose(made)
        tag = made.cells["tag"]
        self._known.add(tag, made.cells.get("serial", ""))
        return tag

    def _model(self, made: Made, had: dict[str, str]) -> str:
        """Name the model of a unit, making its row where the book has none; returns its kind."""
        source = made.source
        maker, model = made.text("maker", "models.maker"), made.text("model", "models.model")
        if not model and had and (not maker or fold(maker) == fold(had["maker"])):
            maker, model = had["maker"], had["model"]
        elif not model:
            model = UNKNOWN_MODEL
            made.doubt("model", f'the model is not told: taken as "{UNKNOWN_MODEL}"')
        if not maker:
            maker, model = self._with_maker(made, model)
        made.cells |= {"maker": maker, "model": model}
        known = self._facts.models.get((fold(maker), fold(model)))
        key = (fold(maker), fold(model))
        row = self._models.get(key)
        if row is None and (known is None or source.fields("models.")):
            row = self._models[key] = self._gathered.add("models.csv", source, model=model, maker=maker)
            row.origin |= {name: made.origin[name] for name in ("model", "maker") if name in made.origin}
        for_model = row if row is not None and row.source is source else Made(source, {})
        kind = self._model_facts(for_model)
        if row is not None and row is not for_model:
            self._compare(made, row, for_model)
        return kind or (row.cells.get("kind", "") if row else "") or (known or {}).get("kind", "")

    def _with_maker(self, made: Made, model: str) -> tuple[str, str]:
        """Return maker and model of a text without a maker: both together, or the one maker known to have it."""
        for row in self._facts.models.values():
            if row["maker"] and fold(f"{row['maker']} {row['model']}") == fold(model):
                return row["maker"], row["model"]
        makers = {fold(maker): maker for maker in self._makers.get(fold(model), ()) if maker}
        if len(makers) != 1:
            return "", model
        maker = next(iter(makers.values()))
        made.doubt("maker", f"the maker is not told: taken as {maker}, whose {model} is listed")
        return maker, model

    def _model_facts(self, row: Made) -> str:
        """Fill in what the sheet tells of the model; returns its kind."""
        kind = put_read(row, "kind", "models.kind", read_kind)
        put_read(row, "drive_type", "models.drive_type", read_drive_type)
        put_read(row, "nominal_speed", "models.nominal_speed", read_number)
        row.text("media", "models.media")
        put_price(row, "replacement_value", "models.replacement_value", self._facts)
        return kind

    def _compare(self, made: Made, row: Made, told: Made) -> None:
        """Fill gaps of the model's row from a later unit; what contradicts it goes to the unit's note."""
        for column, text in told.cells.items():
            if not row.cells.get(column):
                row.cells[column] = text
            elif row.cells[column] != text:
                for at in told.origin.get(column, ()):
                    made.source.used.discard(at)
                    had = f"row {row.source.number} says {row.cells[column]} of the same model"
                    made.source.reasons[at] = had

    def _facts_of_unit(self, made: Made) -> None:
        """Fill in what the sheet tells of the unit itself."""
        for column in ("owner", "location", *_TEXTS):
            made.text(column, f"units.{column}")
        put_read(made, "standing", "units.standing", _standing)
        put_day(made, "acquired_on", "units.acquired_on", self._facts)
        made.text("acquired_from", "units.acquired_from")
        put_price(made, "price", "units.price", self._facts, "units.currency")
        made.text("note", "units.note")

    def _again(self, made: Made) -> str:
        """Return the tag of the book's unit that a row without tag is, by model and serial, else by all it says."""
        serial = fold(made.cells.get("serial", ""))
        alike = self._alike.get((fold(made.cells["maker"]), fold(made.cells["model"]), serial), [])
        for row in alike:
            if serial or _agrees(row, made.cells):
                alike.remove(row)
                return row["tag"]
        return ""

    def _propose(self, made: Made) -> str:
        tag = self._known.free_tag(made.cells.get("kind", ""), self._reserved)
        self._reserved.add(fold(tag))
        place = f"{made.source.sheet} {made.source.table.block.place}"
        self.proposed.setdefault(place, []).append(tag)
        return tag


def _standing(text: str) -> Read:
    """Return a standing, a bare yes or no being the answer to "does it work"."""
    word = _WORKS.get(fold(text))
    return read_standing(text) if word is None else Read(word, f'"{text.strip()}" is read as {word}')


def _agrees(row: dict[str, str], cells: dict[str, str]) -> bool:
    """Say whether a unit of the book is just what a row without tag and serial says of one."""
    told = set(cells.get("note", "").splitlines())
    return told <= set(row["note"].splitlines()) and all(
        _same(row[name], cells[name]) for name in _COMPARED if cells.get(name)
    )


def _same(had: str, told: str) -> bool:
    """Say whether two texts are alike; sums are compared as numbers."""
    try:
        return Decimal(had) == Decimal(told)
    except InvalidOperation:
        return had == told
