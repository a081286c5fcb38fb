"""What a text may be before it goes into the book: not too long, and made of characters that can be kept."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from collection.errors import Refused
from collection.schema.columns import LONG, SHORT

_LONG_ONES = (
    "findings", "note", "symptom", "circumstances", "cause", "cure", "purpose", "condition", "address", "reason",
    "cover", "along", "along_missing", "complaint", "what", "missing", "lost", "damage",
)  # fmt: skip
_IN_MARKS = ("anyway", "all_the_same")
_MOST_IN_MARKS = 2_000  # they are repeated in marks, which are bounded themselves


def refuse_texts(**texts: str) -> None:
    """Refuse a text that is too long for its field, or that holds what no database keeps."""
    for name, text in texts.items():
        most = LONG if name in _LONG_ONES else _MOST_IN_MARKS if name in _IN_MARKS else SHORT
        if len(text) > most:
            label = name.replace("_", " ")
            raise Refused(f"{label} has {len(text)} characters; at most {most} are kept.", "Type less.")
        if any(character == "\0" or "\ud800" <= character <= "\udfff" for character in text):
            label = name.replace("_", " ")
            raise Refused(f"{label} holds a character that is none.", "Type it again, in UTF-8.")


def refuse_texts_of(given: Any) -> None:
    """Refuse such a text in any field of a dataclass, and of the dataclasses that it holds."""
    for field in fields(given):
        value = getattr(given, field.name)
        for each in value if isinstance(value, tuple) else (value,):
            if isinstance(each, str):
                refuse_texts(**{field.name: each})
            elif hasattr(each, "__dataclass_fields__"):
                refuse_texts_of(each)
