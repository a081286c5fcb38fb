"""The documents that quote the program, and how they are kept true.

    python -m tests.support.documents

writes them anew. A test compares them with what this would write.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable

from tests.support.cli import ROOT
from tests.support.csv_form import with_forms
from tests.support.notebook import with_outputs
from tests.support.reference import commands_page
from tests.support.tour import with_tour

WRITTEN: dict[str, Callable[[str], str]] = {
    "README.md": with_tour,
    "docs/commands.md": lambda _: commands_page(),
    "docs/csv-folder.md": with_forms,
    "docs/frames.md": with_outputs,
}


def stale(name: str) -> str:
    """Return what differs between a document and the program, as a diff with a line on what to do; else nothing."""
    written = (ROOT / name).read_text(encoding="utf-8")
    fresh = WRITTEN[name](written)
    if written == fresh:
        return ""
    lines = difflib.unified_diff(written.splitlines(), fresh.splitlines(), name, "the program", lineterm="")
    return "\n".join(["", *lines, "", "If the program is right, type: python -m tests.support.documents"])


def main() -> None:
    """Write every document that is stale."""
    for name, write in WRITTEN.items():
        path = ROOT / name
        written = path.read_text(encoding="utf-8") if path.exists() else ""
        fresh = write(written)
        if fresh != written:
            path.write_text(fresh, encoding="utf-8")
            print(f"written anew: {name}")  # noqa: T201  this is a command of its own


if __name__ == "__main__":
    main()
