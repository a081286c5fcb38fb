"""The oldest SQLite that the program runs on."""

from __future__ import annotations

import re
from pathlib import Path

import collection

_FOLDERS = ("views", "acts", "store")
_GROUPED_SHORTLY_BEFORE = re.compile(r"GROUP BY.{0,150}HAVING", re.DOTALL)


def test_no_statement_filters_an_aggregate_without_grouping_it() -> None:
    """SQLite takes HAVING without GROUP BY only from 3.39 on (its release notes, from memory); 3.37 is accepted."""
    root = Path(collection.__file__).parent
    files = [file for folder in _FOLDERS for file in sorted((root / folder).rglob("*.py"))]

    counted = {
        file.name: (len(re.findall(r"\bHAVING\b", text)), len(_GROUPED_SHORTLY_BEFORE.findall(text)))
        for file in files
        if "HAVING" in (text := file.read_text(encoding="utf-8"))
    }
    assert counted
    assert {} == {name: pair for name, pair in counted.items() if pair[0] != pair[1]}
