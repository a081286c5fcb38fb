"""What stands on a sheet of labels: on each a code that a reader decodes, and the tag that a person reads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from collection.analysis.label_sheet import PAPERS, LabelSheet
from collection.analysis.label_text import QUIET, LabelPlan, plan_label
from collection.errors import Refused


class Label(NamedTuple):
    """What stands on a label: the tag, which its code holds as well, and lines of text below it."""

    tag: str
    texts: tuple[str, ...]


def label_places(
    labels: Sequence[Label], sheet: LabelSheet, *, first: int = 1, outline: bool = False
) -> dict[str, Any]:
    """Return what the report "label-sheet" is given: each page with its labels, all lengths as texts in mm.

    first: the first free label of the first sheet, from 1. outline: whether a thin line goes round each, to cut along.
    Raises Refused for a first label that the sheet does not have, and where a code or a tag has no room.
    """
    if not 1 <= first <= sheet.on_a_page:
        raise Refused(
            f"There is no label {first} on a sheet of {sheet.across} x {sheet.down}.",
            f"Count row by row from the upper left: --first 1 to {sheet.on_a_page}.",
        )
    pages: list[list[dict[str, Any]]] = []
    for number, label in enumerate(labels, first - 1):
        place = sheet.place(number)
        if len(pages) <= place.page:
            pages.append([])
        pages[place.page].append({"x": _mm(place.x), "y": _mm(place.y), **_drawn(label, sheet)})
    width, height = PAPERS[sheet.paper]
    size = {"width": _mm(width), "height": _mm(height)}
    size |= {"label_width": _mm(sheet.width), "label_height": _mm(sheet.height)}
    return {"title": "Labels", "pages": pages, "outline": outline, **size}


def _drawn(label: Label, sheet: LabelSheet) -> dict[str, Any]:
    """Return a label as its template takes it: lengths are texts in mm."""
    rows = _modules(label.tag)
    plan = plan_label(sheet.width, sheet.height, len(rows), label.tag, label.texts)
    lines = [
        {"x": _mm(line.x), "y": _mm(line.y), "size": _mm(line.size), "text": line.text, "bold": line.bold}
        for line in plan.lines
    ]
    return {"code": _path(rows, plan), "lines": lines}


def _modules(tag: str) -> list[list[int]]:
    """Return the modules of the code of a tag, row by row, 1 for dark: ISO/IEC 18004, no less than level Q."""
    import segno

    return [list(row) for row in segno.make_qr(tag, error="q").matrix]


def _path(rows: Sequence[Sequence[int]], plan: LabelPlan) -> str:
    """Return the dark modules as one path of SVG; those beside each other are one piece, so that no seam shows."""
    drawn = []
    for down, row in enumerate(rows, QUIET):
        across = 0
        while across < len(row):
            run = across
            while run < len(row) and row[run]:
                run += 1
            if run > across:
                x, y = (start + plan.module * at for start, at in ((plan.code_x, across + QUIET), (plan.code_y, down)))
                drawn.append(
                    f"M{_mm(x)} {_mm(y)}h{_mm((run - across) * plan.module)}v{_mm(plan.module)}"
                    f"h-{_mm((run - across) * plan.module)}z"
                )
            across = run + 1
    return "".join(drawn)


def _mm(length: float) -> str:
    return f"{length:.3f}".rstrip("0").rstrip(".")
