"""Sheets of labels: where each stands on the paper, and what has room on it."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import pytest
from PIL import ImageFont

from collection.analysis.label_sheet import PAPERS, label_sheet, parse_grid, parse_lengths, parse_size
from collection.analysis.label_text import LEAST_MODULE, QUIET, plan_label, width_of
from collection.errors import Refused
from collection.exchange.label_page import Label, label_places


def test_labels_go_row_by_row_and_on_to_the_next_page() -> None:
    """The first label begins at the margins, each next one a width and a gap further, after the last a page later."""
    sheet = label_sheet("A4", (3, 8), (60.0, 30.0), (10.0, 12.0), (5.0, 4.0))
    assert (0, 10.0, 12.0) == sheet.place(0)
    assert (0, 75.0, 12.0) == sheet.place(1)
    assert (0, 10.0, 46.0) == sheet.place(3)
    assert (1, 10.0, 12.0) == sheet.place(24)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_usual_sheet_stands_in_the_middle_of_its_paper(paper: str) -> None:
    """Without a word, what is left free is the same left and right, above and below."""
    sheet = label_sheet(paper)
    last = sheet.place(sheet.on_a_page - 1)
    width, height = PAPERS[paper]
    assert sheet.left == pytest.approx(width - last.x - sheet.width)
    assert sheet.top == pytest.approx(height - last.y - sheet.height)


@pytest.mark.parametrize(("size", "fits"), [((69.9, 37), True), ((70.0, 37), True), ((70.1, 37), False)])
def test_labels_that_reach_over_the_edge_are_refused(size: tuple[float, float], fits: bool) -> None:
    """3 labels of 70 mm fill the 210 mm of A4 (ISO 216); a tenth of a millimetre more each does not fit."""
    if fits:
        assert label_sheet("A4", (3, 8), size).width == size[0]
    else:
        with pytest.raises(Refused, match=r"take 210\.3 mm with margin and gaps; A4 paper has 210 mm"):
            label_sheet("A4", (3, 8), size)


def test_sizes_are_read_as_people_write_them() -> None:
    """A comma, a multiplication sign and blanks are read; nothing, words and 51 labels a side are refused."""
    assert parse_grid("3 x 8") == (3, 8)
    assert parse_grid("1X50") == (1, 50)
    assert parse_size("63,5×38.1") == (63.5, 38.1)
    assert parse_lengths("0x7.5", "--gap") == (0.0, 7.5)
    for wrong in ("0x8", "51x1", "2.5x3", "3", "axb", "3x-1"):
        with pytest.raises(Refused):
            parse_grid(wrong)
    for wrong in ("0x37", "70x0", "1.2.3x4", ""):
        with pytest.raises(Refused):
            parse_size(wrong)


def test_code_that_would_be_too_fine_to_read_is_refused() -> None:
    """A module may be four dots of a 300 dpi printer wide and no less; quiet zone ISO/IEC 18004:2015, 6.3.8."""
    modules = 21
    least = (modules + 2 * QUIET) * LEAST_MODULE
    assert plan_label(60, least + 0.001, modules, "D1", []).module >= LEAST_MODULE
    with pytest.raises(Refused, match=r'The code of "D1" needs 9\.8 mm'):
        plan_label(60, least - 0.001, modules, "D1", [])


@pytest.mark.parametrize(("width", "height"), [(70, 37), (48.5, 25.4), (40, 40), (38.1, 21.2), (30, 60), (60, 10)])
@pytest.mark.parametrize("tag", ["D1", "WWWWWW", "shelf 12/ä"])
def test_nothing_on_a_label_leaves_it_or_touches_the_code(width: float, height: float, tag: str) -> None:
    """Every line ends inside the label, below the one before it, and outside the code with its quiet zone."""
    texts = ("Orrin & Vale OV-1200 with a name that is long", "", "serial 123-456", "a book")
    plan = plan_label(width, height, 21, tag, texts)
    assert plan.lines[0].text == tag
    before = 0.0
    for line in plan.lines:
        assert line.x + width_of(line.text, bold=line.bold) * line.size <= width + 1e-9
        assert line.y - line.size * 0.9 >= before
        before = line.y + line.size * 0.25
        beside, below = line.x >= plan.code_x + plan.side, line.y - line.size * 0.9 >= plan.code_y + plan.side
        assert beside or below
    assert before <= height


def test_tag_is_never_cut_but_refused() -> None:
    """A tag is shown whole in type of 2 mm or more, or refused with what to type; other texts are cut and say so."""
    plan = plan_label(70, 37, 25, "D1", ["x" * 200])
    assert plan.lines[1].text.endswith("…")
    with pytest.raises(Refused, match=r'The tag "W+" has no room on the label'):
        plan_label(70, 37, 25, "W" * 40, [])


@pytest.mark.parametrize(("file", "bold"), [("DejaVuSans.ttf", False), ("DejaVuSans-Bold.ttf", True)])
def test_letters_are_taken_for_no_narrower_than_they_are(file: str, bold: bool) -> None:
    """What a line is taken to need is no less than the letters of DejaVu Sans, a wide font, really take."""
    font = ImageFont.truetype(str(Path(mpl.get_data_path(), "fonts", "ttf", file)), 1000)
    letters = [chr(code) for code in (*range(0x20, 0x7F), *range(0xA1, 0x180), 0x2013, 0x2026) if code != 0xAD]
    narrow = {letter for letter in letters if font.getlength(letter) / 1000 > width_of(letter, bold=bold)}
    assert not narrow


def test_days_shrink_before_they_are_cut() -> None:
    """On a small label "serviced" and "due" stand whole with their days; a long list of work gives way."""
    texts = ("serviced 2026-01-02", "due 2027-01-02", "dust out and 4 more of a long list")
    lines = plan_label(38.1, 21.2, 21, "D1", texts).lines
    assert texts[:2] == tuple(line.text for line in lines[1:3])
    assert lines[3].text.endswith("…")
    # Without a serial number the name of the book does not move up among those that matter.
    with_serial, without = (plan_label(66, 25, 21, "D1", ("OV 1", serial, "a club " * 9)) for serial in ("S 1", ""))
    assert with_serial.lines[1].size == without.lines[1].size


def test_first_free_label_is_one_of_the_sheet() -> None:
    """--first 24 of 24 puts the first label last on its page and the second on the next; 0 and 25 are refused."""
    sheet = label_sheet("A4")
    labels = [Label("D1", ()), Label("D2", ())]
    pages = label_places(labels, sheet, first=24)["pages"]
    assert [len(page) for page in pages] == [1, 1]
    assert (pages[0][0]["x"], pages[1][0]["x"]) == ("140", "0")
    for wrong in (0, 25):
        with pytest.raises(Refused, match="--first 1 to 24"):
            label_places(labels, sheet, first=wrong)
