"""Sheets of labels by their millimetres: how many, how large, where the first stands, and what fits on the paper."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from collection.errors import Refused
from collection.quantity import parse_number

# Width and height in mm: ISO 216 for A4; letter is 8.5 by 11 inches of 25.4 mm.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
_TENTH = 0.1  # mm; a sheet that is so much too large by rounding still fits
_PAIR = re.compile(r"\s*([0-9.,]+)\s*[x×*]\s*([0-9.,]+)\s*", re.IGNORECASE)
_MOST = 50  # labels along one side


class Usual(NamedTuple):
    """Labels across and down, and the size of one in mm, where nobody tells."""

    grid: tuple[int, int]
    size: tuple[float, float]
    gap: tuple[float, float]


# Sheets that are sold everywhere: common practice, no source.
USUAL = {
    "A4": Usual((3, 8), (70.0, 37.0), (0.0, 0.0)),
    "Letter": Usual((3, 10), (66.675, 25.4), (3.175, 0.0)),
}


class Place(NamedTuple):
    """Where a label stands: its page from 0, and its upper left corner in mm from that of the paper."""

    page: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet: labels across and down, all else in mm; left and top are where the first label begins."""

    paper: str
    across: int
    down: int
    width: float
    height: float
    left: float
    top: float
    gap_x: float
    gap_y: float

    @property
    def on_a_page(self) -> int:
        """How many labels a page has."""
        return self.across * self.down

    def place(self, number: int) -> Place:
        """Return where a label stands, counted from 0, row by row from the upper left."""
        page, on_page = divmod(number, self.on_a_page)
        row, column = divmod(on_page, self.across)
        x = self.left + column * (self.width + self.gap_x)
        return Place(page, x, self.top + row * (self.height + self.gap_y))


def label_sheet(
    paper: str,
    grid: tuple[int, int] | None = None,
    size: tuple[float, float] | None = None,
    margins: tuple[float, float] | None = None,
    gap: tuple[float, float] | None = None,
) -> LabelSheet:
    """Return a sheet; what is left out is as usual on that paper, and labels stand in its middle without margins.

    grid: labels across and down. size, margins (left and top) and gap (between labels, across and down): mm.
    Raises Refused for labels that do not fit on the paper.
    """
    usual = USUAL[paper]
    own = grid is not None or size is not None
    across, down = grid or usual.grid
    width, height = size or usual.size
    gap_x, gap_y = gap or ((0.0, 0.0) if own else usual.gap)
    left_margin, top_margin = margins or (None, None)
    left = _start(paper, "across", across, width, gap_x, left_margin)
    top = _start(paper, "down", down, height, gap_y, top_margin)
    return LabelSheet(paper, across, down, width, height, left, top, gap_x, gap_y)


def _start(paper: str, way: str, many: int, long: float, gap: float, margin: float | None) -> float:
    """Return where the first label begins along one side: at the margin, else so that all stand in the middle."""
    has = PAPERS[paper][way == "down"]
    taken = many * long + (many - 1) * gap
    start = max(has - taken, 0.0) / 2 if margin is None else margin
    if start + taken > has + _TENTH:
        raise Refused(
            f"{many} labels of {long:g} mm {way} take {start + taken:.5g} mm with margin and gaps;"
            f" {paper} paper has {has:g} mm.",
            "Measure the sheet, then: --sheet 3x8 --size 70x37 --margins 0x0.5",
        )
    return start


def parse_grid(text: str) -> tuple[int, int]:
    """Return labels across and down of "3x8". Raises Refused for anything else and for more than 50 a side."""
    across, down = _pair(text, "--sheet", "labels across by labels down, as 3x8")
    for number in (across, down):
        if number != int(number) or not 1 <= number <= _MOST:
            raise Refused(
                f'"{text}" is no sheet of labels: {number:.12g} is not a whole number from 1 to {_MOST}.',
                "Type labels across by labels down, as 3x8.",
            )
    return int(across), int(down)


def parse_size(text: str) -> tuple[float, float]:
    """Return width and height in mm of "70x37". Raises Refused for anything else, and where a side is nothing."""
    width, height = _pair(text, "--size", "width by height in mm, as 70x37")
    if not width or not height:
        raise Refused(f'"{text}" is no size of a label: a side is 0 mm.', "Type width by height in mm, as 70x37.")
    return width, height


def parse_lengths(text: str, option: str) -> tuple[float, float]:
    """Return two lengths in mm of "7.5x12"; 0 is allowed. Raises Refused for anything else."""
    return _pair(text, option, "two lengths in mm, as 7.5x12")


def _pair(text: str, option: str, what: str) -> tuple[float, float]:
    found = _PAIR.fullmatch(text)
    if found is None:
        raise Refused(f'{option} "{text}" cannot be read.', f"Type {what}.")
    first, second = (float(parse_number(part.replace(",", "."))) for part in found.groups())
    return first, second
