"""report: pages out of a book, as files and on paper."""

from __future__ import annotations

import json
import re
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread

import pytest

from collection.acts.rounds import GivenRound, set_out
from collection.cli.round_show import questions_of
from collection.exchange import report_pdf
from collection.exchange.report_page import render
from collection.store.engine import open_engine, reading
from collection.views.rounds import Chosen
from tests.support.cli import Ran, run_cli
from tests.support.paper import browser, pdf_of_page, sizes_of, texts_of
from tests.support.times import TODAY

HOSTILE = "<script>alert(1)</script>{{ 7 * 7 }}"


def sb(book: Path, *words: str, code: int = 0) -> Ran:
    """Run a command on the book."""
    ran = run_cli(words, db=book)
    assert code == ran.code, ran
    return ran


def page(book: Path, file: Path, *words: str) -> str:
    """Return the page that a report writes into a file."""
    sb(book, "report", *words, "--to", str(file), "--replace")
    return file.read_text(encoding="utf-8")


def plain(html: str) -> str:
    """Return the text of a page, blanks and line ends as one blank."""
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def test_a_bench_sheet_on_paper_has_cautions_before_their_step_and_names_its_unit_on_every_page(
    book: Path, tmp_path: Path
) -> None:
    """Printed by a browser on Letter: each unit begins on a page of its own, and both are whole."""
    file = tmp_path / "sheet.pdf"
    words = ("bench-sheet", "D1", "P1", "--do", "replace belt", "--do", "rail and ripple check")
    told = sb(book, "report", *words, "--to", str(file), "--paper", "letter", "--browser", browser()).out
    texts = texts_of(file)
    of_d1 = " ".join(text for text in texts if "D1, bench sheet, 2026-03-01" in text)
    cautions, steps = of_d1.index("Before the unit is opened"), of_d1.index("replace belt revision")

    assert f"Written to {file}.\n" == told
    assert {(216, 279)} == set(sizes_of(file))
    assert all(re.search(r"(D1|P1), bench sheet, 2026-03-01", text) for text in texts)
    assert [f"{at} / {len(texts)}" in text for at, text in enumerate(texts, 1)] == [True] * len(texts)
    assert cautions < of_d1.index("Readings") < steps < of_d1.index("Findings") < of_d1.index("Outcome")
    assert re.search(r"Caution \S.{5,200}? 1\. ", of_d1[steps:])
    assert "295.5 to 304.5 r/min" in of_d1
    assert "spindlebook service record D1" in of_d1


def test_a_browser_loads_and_runs_nothing_that_a_template_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The policy of the page alone holds: the browser may ask this machine for this once, and does not."""
    here = tuple(f"{flag} , EXCLUDE 127.0.0.1" if "resolver" in flag else flag for flag in report_pdf._FLAGS)
    monkeypatch.setattr(report_pdf, "_FLAGS", here)
    asked: list[str] = []

    class Outside(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)

    with HTTPServer(("127.0.0.1", 0), Outside) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        at = f"http://127.0.0.1:{server.server_port}"
        (tmp_path / "page.html").write_text(
            '{% extends "paper.html" %}{% block content %}<p>as it was</p>'
            f'<img src="{at}/img"><script src="{at}/js"></script><iframe src="{at}/frame"></iframe>'
            f'<link rel="stylesheet" href="{at}/css"><object data="{at}/object"></object>'
            '<script>document.body.innerHTML = "ran"</script><img src="x" onerror="document.body.innerHTML = 1">'
            "{% endblock %}",
            encoding="utf-8",
        )
        (tmp_path / "style.css").write_text(f"p {{ background: url({at}/background) }}", encoding="utf-8")
        texts = texts_of(
            pdf_of_page(render("due", {"title": "t", "book": "", "day": "d"}, tmp_path), tmp_path / "x.pdf")
        )
        server.shutdown()

    assert [] == asked
    assert "as it was" in texts[0]


def test_a_round_sheet_stands_in_the_order_in_which_the_round_asks(book: Path, tmp_path: Path) -> None:
    """Place by place; the command on it asks for the same units, named where only those due were wanted."""
    for tag, place in (("D4", "attic"), ("D1", "shelf B"), ("D2", "attic")):
        sb(book, "location", "add", place, code=0) if place not in sb(book, "location", "list").out else None
        sb(book, "unit", "enter", tag, "--location", place)
    sheet = page(book, tmp_path / "round.html", "round-sheet", "--of", "spindle speed")
    named = page(book, tmp_path / "round.html", "round-sheet", "--of", "spindle speed", "D1", "D2")
    with reading(open_engine(str(book))) as conn:
        asked = questions_of(set_out(conn, GivenRound("spindle speed"), Chosen(), TODAY), "iso")

    assert ["D2", "D4", "D1", "D3"] == [each.tag for each in asked]
    assert [each.tag for each in asked] == re.findall(r'td class="tag">(\w+)<', sheet)
    assert "Not visited: D7 (donor), D9 (missing)." in plain(sheet)
    assert 0 < plain(sheet).index("Try a supply unit alone on a dummy load") < plain(sheet).index("D2")
    assert "spindlebook round --of &#34;spindle speed&#34; --on DAY</code>" in sheet
    assert "spindlebook round --of &#34;spindle speed&#34; --on DAY D2 D1</code>" in named


def test_due_work_and_the_shopping_list_are_those_of_their_lists(book: Path, tmp_path: Path) -> None:
    """The same units and supplies in the same order, with every reason."""
    sb(book, "fault", "add", "D1", f"read errors {HOSTILE}")
    sb(book, "wanted", "add", "D3", "lamp")
    due = json.loads(sb(book, "due", "--json").out)
    supplies = json.loads(sb(book, "reorder", "--json").out)
    sheet = page(book, tmp_path / "due.html", "due")
    shopping = plain(page(book, tmp_path / "shopping.html", "shopping"))

    assert [row["tag"] for row in due] == re.findall(r'class="unit"><b>(\w+)<', sheet) != []
    assert all(why.replace("<", "&lt;").replace(">", "&gt;") in sheet for why in due[0]["why"] if '"' not in why)
    assert "<script>" not in sheet
    assert "{{ 7 * 7 }}" in sheet
    assert "lamp wanted for D3" in shopping
    assert all(row["supply"] not in shopping for row in supplies if row["state"] == "fine")


def test_a_loan_slip_has_both_sides_the_units_and_lines_to_sign(book: Path, tmp_path: Path) -> None:
    """Whatever stands in the book is text; it is signed when the units go, and when they come."""
    sb(book, "unit", "edit", "D1", "--accessories", HOSTILE)
    sb(
        book,
        "loan",
        "out",
        "D1",
        "P1",
        "--to",
        "Bram Oakhollow",
        "--due",
        "2026-05-01",
        "--deposit",
        "50",
        "--all-the-same",
        "the club's own rules",
    )
    sheet = page(book, tmp_path / "slip.html", "loan-slip", "P1")
    text = plain(sheet)

    assert "<script>" not in sheet
    assert "&lt;script&gt;alert(1)&lt;/script&gt;{{ 7 * 7 }}" in sheet
    assert text.index("Bram Oakhollow") < text.index("D1 Halverby DM-8") < text.index("P1 Halverby PS-2")
    assert "due back 2026-05-01 deposit 50.00 EUR" in text
    assert text.index("Mains inside the case can kill") < text.index("Handed over") < text.index("Taken back")


def test_a_report_of_ones_own_is_copied_changed_and_used(book: Path, tmp_path: Path) -> None:
    """A mistake in it is told in two lines with its file and line, and nothing is written."""
    own = tmp_path / "ours"
    sb(book, "report", "copy", "due", str(own))
    template = (own / "page.html").read_text(encoding="utf-8")
    (own / "page.html").write_text(template.replace("{% block content %}", "{% block content %}<p>Our wall</p>"))
    changed = page(book, tmp_path / "due.html", "due", "--report-dir", str(own))
    (own / "page.html").write_text(template.replace("{% for group in groups %}", "\n{% for group in grups %}"))
    refused = sb(book, "report", "due", "--to", str(tmp_path / "x.html"), "--report-dir", str(own), code=1)

    assert "<p>Our wall</p>" in changed
    assert [f"{own}/page.html, line 4: 'grups' is undefined.", "Did you mean groups?"] == refused.err.splitlines()
    assert not (tmp_path / "x.html").exists()


def test_a_report_without_a_file_names_its_own_and_writes_over_nothing(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the present folder, by report, unit and day; another ending is refused before anything is worked out."""
    monkeypatch.chdir(tmp_path)
    first = sb(book, "report", "bench-sheet", "D1").out
    again = sb(book, "report", "bench-sheet", "D1", code=1).err
    ending = sb(book, "report", "bench-sheet", "D111", "--to", "sheet.doc", code=1).err

    assert "Written to bench-sheet-d1-2026-03-01.html. A browser shows and prints it.\n" == first
    assert "bench-sheet-d1-2026-03-01.html is there already." in again
    assert "sheet.doc is no .html and no .pdf file." in ending
    assert ["bench-sheet-d1-2026-03-01.html"] == [file.name for file in tmp_path.glob("*.html")]
