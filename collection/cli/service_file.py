"""A service told in a JSON file: the same things as the options, under the same names."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from typing import Any, TypeVar

from collection.acts.adjustments import GivenTurn
from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenLube, GivenPart, GivenUse
from collection.cli.service_words import parse_lubed, parse_part, parse_reading, parse_turned, parse_use
from collection.errors import Refused, nearest

T = TypeVar("T")
_TEXTS = ("on", "outcome", "findings", "by", "reason", "anyway")
_FLAGS = ("by_the_sheet", "new_instrument", "past_date_anyway")


def read_service(text: str, source: str) -> dict[str, Any]:
    """Return what a JSON object tells of a service, as arguments of GivenService.

    source: what the text is called in a refusal. Raises Refused for text that is no JSON object, a key that is
    not known or stands twice, and a value of the wrong form.
    """
    reader = _Reader(source)
    told = reader.load(text)
    reader.known(told, (*_TEXTS, *_FLAGS, *_LISTS, "did", "instrument", "minutes"), "")
    made: dict[str, Any] = {key: reader.text(told, key) for key in _TEXTS if key in told}
    made |= {key: reader.flag(told, key) for key in _FLAGS if key in told}
    made |= {_FIELDS.get(key, key): reader.listed(told, key, *_LISTS[key]) for key in _LISTS if key in told}
    if "did" in told:
        made["did"] = reader.texts(told, "did")
    if "instrument" in told:
        made["instruments"] = reader.texts(told, "instrument")
    if "minutes" in told:
        made["minutes"] = reader.whole(told, "minutes")
    return made


class _Reader:
    """Reads values of one source; every refusal names the source and the key."""

    def __init__(self, source: str) -> None:
        self.source = source

    def load(self, text: str) -> dict[str, Any]:
        """Return the object; numbers stay as they are written."""
        try:
            told = json.loads(text, parse_float=str, parse_int=str, parse_constant=str, object_pairs_hook=self._once)
        except json.JSONDecodeError as error:
            raise Refused(
                f"{self.source}, line {error.lineno}: no JSON ({error.msg}).",
                "See the example in: spindlebook service record --help",
            ) from None
        except RecursionError:
            raise self._wrong("the whole", "is nested too deeply", "Write it as in the example.") from None
        if not isinstance(told, dict):
            raise self._wrong("the whole", "is not an object", 'Begin it with "{".')
        return told

    def known(self, told: Iterable[str], keys: Iterable[str], where: str) -> None:
        """Refuse a key that is not among those known."""
        names = list(keys)
        for key in told:
            if key not in names:
                near = nearest(key, names)
                hint = f"Nearest: {', '.join(near)}." if near else f"Known: {', '.join(names)}."
                raise Refused(f'{self.source}: {where}key "{key}" is not known.', hint)

    def text(self, told: Mapping[str, Any], key: str) -> str:
        """Return a text or a number as text; null is none."""
        value = told[key]
        if value is None:
            return ""
        if not isinstance(value, str):
            raise self._wrong(f'"{key}"', "is not a text", f'Write it as "{key}": "...".')
        return value.strip()

    def flag(self, told: Mapping[str, Any], key: str) -> bool:
        """Return true or false."""
        if not isinstance(told[key], bool):
            raise self._wrong(f'"{key}"', "is neither true nor false", f'Write it as "{key}": true.')
        return bool(told[key])

    def whole(self, told: Mapping[str, Any], key: str) -> int:
        """Return a whole number."""
        text = self.text(told, key)
        if not (text.isascii() and text.isdigit()):
            raise self._wrong(f'"{key}"', "is not a whole number", f'Write it as "{key}": 45.')
        return int(text)

    def texts(self, told: Mapping[str, Any], key: str) -> tuple[str, ...]:
        """Return a list of texts; one text alone is a list of one."""
        value = told[key] if isinstance(told[key], list) else [told[key]]
        return tuple(self.text({key: each}, key) for each in value)

    def listed(
        self, told: Mapping[str, Any], key: str, form: Callable[..., T], parse: Callable[[str], T]
    ) -> tuple[T, ...]:
        """Return a list of objects of a form, or of texts as an option takes them."""
        value = told[key]
        if not isinstance(value, list):
            raise self._wrong(f'"{key}"', "is not a list", f'Write it as "{key}": [...].')
        return tuple(
            self._object(each, key, form) if isinstance(each, dict) else parse(self.text({key: each}, key))
            for each in value
        )

    def _object(self, told: Mapping[str, Any], where: str, form: Callable[..., T]) -> T:
        names = [each.name for each in fields(form)]  # type: ignore[arg-type]
        self.known(told, names, f"{where}: ")
        missing = [name for name in _NEEDED[form] if not told.get(name)]
        if missing:
            raise Refused(f'{self.source}: {where}: "{missing[0]}" is missing.', f"An entry has: {', '.join(names)}.")
        flags = {each.name for each in fields(form) if each.type == "bool"}  # type: ignore[arg-type]
        return form(**{key: self.flag(told, key) if key in flags else self.text(told, key) for key in told})

    def _once(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        told: dict[str, Any] = {}
        for key, value in pairs:
            if key in told:
                raise self._wrong(f'"{key}"', "stands twice", "Keep one of the two.")
            told[key] = value
        return told

    def _wrong(self, what: str, rule: str, hint: str) -> Refused:
        return Refused(f"{self.source}: {what} {rule}.", hint)


_LISTS: dict[str, tuple[Callable[..., Any], Callable[[str], Any]]] = {
    "as_found": (GivenReading, parse_reading),
    "as_left": (GivenReading, parse_reading),
    "used": (GivenUse, parse_use),
    "part": (GivenPart, parse_part),
    "turned": (GivenTurn, parse_turned),
    "lubed": (GivenLube, parse_lubed),
}
_FIELDS = {"part": "parts"}
_NEEDED: dict[Any, tuple[str, ...]] = {
    GivenReading: ("measurement", "value"),
    GivenUse: ("supply", "quantity"),
    GivenPart: ("part",),
    GivenTurn: ("screw", "amount", "direction"),
    GivenLube: ("point", "supply"),
}
