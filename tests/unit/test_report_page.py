"""Pages out of templates: what they may load and run, whose template counts, and how a mistake in one is told."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from collection.errors import Refused
from collection.exchange.report_page import copy_report, data_uri, foot, render, report_names
from collection.store.shipped import shipped

REPORTS = shipped("reports")
PLACES = {"title": "Slip", "book": "the club", "day": "2026-03-01", "rows": ["one"]}
EXTENDS = '{% extends "paper.html" %}\n{% block content %}\n'


class Tags(HTMLParser):
    """Collects the tags of a page with their attributes, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        """Note a text."""
        self.text += data


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """Return an empty folder for a person's own report."""
    folder = tmp_path / "own"
    folder.mkdir()
    return folder


def page_of(own: Path, template: str, places: dict[str, Any] | None = None, **told: Any) -> str:
    """Return what a template of a person's own makes."""
    (own / "page.html").write_text(template, encoding="utf-8")
    return render("due", PLACES if places is None else places, own, **told)


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        '"><img src=x onerror=alert(1)>',
        "</style><script>",
        "{{ 7 * 7 }}",
        "{% raise %}",
        "&lt;",
    ],
)
def test_a_text_of_the_book_is_text_on_the_page(own: Path, text: str) -> None:
    """Whatever a name holds makes no tag, no attribute and no template."""
    plain = Tags(page_of(own, EXTENDS + '<p title="{{ title }}">{{ title }}</p>{% endblock %}'))
    page = Tags(
        page_of(own, EXTENDS + '<p title="{{ title }}">{{ title }}</p>{% endblock %}', PLACES | {"title": text})
    )

    assert [tag for tag, _ in plain.tags] == [tag for tag, _ in page.tags]
    assert text == next(attributes["title"] for tag, attributes in page.tags if tag == "p" and "title" in attributes)
    assert 3 == page.text.count(text)  # title of the window, heading, paragraph


def test_a_page_is_told_first_to_load_and_run_nothing(own: Path) -> None:
    """The policy stands before all else in the head, in a template of a person's own as well (CSP Level 3, 3.3)."""
    for template in (EXTENDS + "{% endblock %}", "<html>\n<HEAD lang='en'><script>x</script></HEAD></html>"):
        tags = Tags(page_of(own, template)).tags
        first, second = [attributes for tag, attributes in tags if tag == "meta"][:2]
        at = [tag for tag, _ in tags].index("head")

        assert ("head", "meta", "meta") == tuple(tag for tag, _ in tags[at : at + 3])
        assert {"charset": "utf-8"} == first
        assert "Content-Security-Policy" == second["http-equiv"]
        assert str(second["content"]).startswith("default-src 'none'; img-src data:")
        # Neither falls back to default-src (CSP Level 3, from memory): each is closed by itself.
        assert {"base-uri 'none'", "form-action 'none'"} <= set(str(second["content"]).split("; "))
        assert "script" not in str(second["content"])


def test_no_shipped_report_names_an_address_or_trusts_a_text() -> None:
    """Nothing is loaded from outside, and no text goes in unescaped."""
    files = [each for each in REPORTS.rglob("*") if each.suffix in (".html", ".css")]

    assert len(files) >= 14
    for file in files:
        text = file.read_text(encoding="utf-8")
        forbidden = r"https?:|//\w|@import|url\(|<script|\|\s*safe|autoescape|javascript:"
        assert not re.search(forbidden, text), file
        assert all(found.startswith("{{") for found in re.findall(r'(?:src|href)="([^"]*)"', text)), file


def test_every_report_says_who_asks_for_it() -> None:
    """Each folder has its page, its style and a README that names the reader."""
    names = report_names()

    assert {"bench-sheet", "round-sheet", "due", "shopping", "loan-slip", "order-sheet"} <= set(names)
    for name in names:
        assert (REPORTS / name / "style.css").is_file(), name
        assert "Who asks for it:" in (REPORTS / name / "README.md").read_text(encoding="utf-8"), name


@pytest.mark.parametrize(
    ("template", "line", "words"),
    [
        ("<head>\n{{ titel }}", 2, "'titel' is undefined. Did you mean title?"),
        ("<head>{{ quite_other }}", 1, "The page is given: book, day, rows, title."),
        ("<head>\n\n{% if title %}", 3, "Unexpected end of template"),
        ("<head>\n{{ title|safe }}", 2, "No filter named 'safe'"),
        (EXTENDS + "{{ rows[1] }}{% endblock %}", 3, "has no element 1"),
        (EXTENDS + "{{ 1 / 0 }}{% endblock %}", 3, "division by zero"),
        ("<head>\n{% include 'page.html' %}", 2, "maximum recursion depth"),
        ("<head>\n{{ title.__class__.__mro__ }}", 2, "is unsafe"),
        ("<head>\n{% set x = rows.append(1) %}", 2, "attribute 'append' of 'list' object is unsafe"),
        ("<head>{% for n in range(1000000) %}{% endfor %}", 1, "Range too big"),
        (
            '{% extends "papr.html" %}',
            1,
            "there is no template 'papr.html'. Beside the report's own files there are: paper",
        ),
    ],
)
def test_a_mistake_in_a_template_is_told_with_file_line_and_what_is_wrong(
    own: Path, template: str, line: int, words: str
) -> None:
    """Nobody reads a traceback of the program for a template of their own."""
    with pytest.raises(Refused) as refused:
        page_of(own, template)

    assert str(refused.value).startswith(f"{own / 'page.html'}, line {line}: ")
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_template_that_cannot_be_read_or_has_no_head_is_refused(own: Path) -> None:
    """The policy needs a head, and bytes must be text."""
    with pytest.raises(Refused, match=r'page without <head>\. Let it begin with \{% extends "paper\.html" %\}'):
        page_of(own, "<p>{{ title }}</p>")
    (own / "page.html").write_bytes(b"<head>\xff")
    with pytest.raises(Refused, match="can't decode byte 0xff"):
        render("due", PLACES, own)


def test_each_file_of_an_own_report_comes_before_ours(own: Path) -> None:
    """The page, its style and what all reports share are taken one by one; what is missing is ours."""
    (own / "style.css").write_text("h1 { color: teal }", encoding="utf-8")
    styled = render("due", PLACES | {"groups": [], "below": []}, own)
    (own / "paper.html").write_text("<head></head>{% block content %}{% endblock %} framed", encoding="utf-8")
    (own / "paper.css").write_text("body { color: navy }", encoding="utf-8")
    page = page_of(own, EXTENDS + "mine {{ style }}{% endblock %}")

    assert "h1 { color: teal }" in styled
    assert (REPORTS / "paper" / "paper.css").read_text(encoding="utf-8") in styled
    assert (REPORTS / "due" / "style.css").read_text(encoding="utf-8") not in styled
    assert all(words in page for words in ("mine", "framed", "teal", "navy"))
    assert "font-variant-numeric" not in page


def test_a_style_that_would_end_itself_is_refused_with_its_line(own: Path) -> None:
    """No stylesheet writes into the page."""
    (own / "style.css").write_text("h1 { }\n</style><script>", encoding="utf-8")

    with pytest.raises(Refused, match=r'style\.css, line 2: "</" would end the stylesheet'):
        render("due", PLACES, own)


def test_a_folder_without_a_report_is_refused(own: Path) -> None:
    """The folder itself must hold the files, not one above it."""
    with pytest.raises(Refused, match=r"own has no page\.html and no style\.css"):
        render("due", PLACES, own)
    with pytest.raises(Refused, match=r"There is no folder .*nowhere.*spindlebook report copy"):
        render("due", PLACES, own / "nowhere")


def test_the_paper_and_the_foot_stand_in_the_style(own: Path) -> None:
    """A4 or Letter (CSS Paged Media Level 3, 7.1), and a text at the foot that can be no CSS and no tag."""
    page = page_of(own, EXTENDS + "{% endblock %}", paper="Letter", style=foot('D"1\n</style>}', "one"))
    written = re.search(r'@page one \{ @bottom-left \{ content: "([^"]*)"', page)

    assert "@page { size: Letter; }" in page
    assert written is not None
    assert r"D\0000221\00000a\00003c\00002fstyle\00003e\00007d" == written[1]


def test_a_picture_goes_in_as_its_bytes() -> None:
    """RFC 2397, section 2: data:[<mediatype>][;base64],<data>."""
    assert "data:image/jpeg;base64,/9j/" == data_uri(b"\xff\xd8\xff", "image/jpeg")


def test_a_copied_report_makes_the_same_page(tmp_path: Path) -> None:
    """Copy, change nothing, and nothing changes; a second copy never writes over the first."""
    places = PLACES | {"groups": [], "below": ["Nothing is due."]}
    folder = tmp_path / "clubs" / "due"
    files = copy_report("due", folder)

    assert ["README.md", "page.html", "paper.css", "paper.html", "style.css"] == [file.name for file in files]
    assert render("due", places) == render("due", places, folder)
    with pytest.raises(Refused, match="is there already; nothing is overwritten"):
        copy_report("due", folder)
    with pytest.raises(Refused, match=r"There is no report 'loan-slib'\. There are: loan-slip"):
        copy_report("loan-slib", tmp_path / "x")
