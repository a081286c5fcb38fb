"""The documents: what they quote is what the program says, and what they tell to type can be typed."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from collection.cli.commands import COMMANDS
from collection.cli.table import width_of
from collection.quantity import UNITS
from collection.schema.columns import LONG, SHORT
from collection.views.folder.form import FORMS
from tests.support import documents
from tests.support.cli import ROOT, run_cli
from tests.support.documents import WRITTEN, stale
from tests.support.reference import command_tree
from tests.support.tour import WIDTH, commands_of

PAGES = ("README.md", "docs/commands.md", "docs/csv-folder.md", "docs/json-keys.md", "DEVELOPERS.md")
TREE = {context.command_path: (context, command) for context, command in command_tree()}


def page(name: str) -> str:
    """Return the text of a document."""
    return (ROOT / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", WRITTEN)
def test_a_document_quotes_the_program_as_it_is(name: str) -> None:
    """The tour's screens, the help of every command, the columns of every file; a difference is shown as a diff."""
    assert "" == stale(name)


def test_a_document_that_is_stale_is_shown_as_a_diff(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both lines stand in it, and the command that writes the document anew; that command makes it true."""
    monkeypatch.setattr(documents, "ROOT", tmp_path)
    monkeypatch.setattr(documents, "WRITTEN", {"page.md": lambda text: text.replace("three", "four")})
    (tmp_path / "page.md").write_text("two\nthree\n", encoding="utf-8")

    told = documents.stale("page.md").splitlines()
    documents.main()

    assert {"-three", "+four", " two"} < set(told)
    assert "If the program is right, type: python -m tests.support.documents" == told[-1]
    assert "" == documents.stale("page.md")


@pytest.mark.parametrize(("name", "ending"), [("run", "spindlebook demo"), ("test", "python -m pytest")])
def test_the_readme_has_each_marked_command_in_at_most_two_lines(name: str, ending: str) -> None:
    """A newcomer pastes one or two lines; the first command ends in the demo, the second in the tests."""
    (block,) = re.findall(rf"^<!-- command: {name} -->\n```sh\n(.*?)^```$", page("README.md"), re.MULTILINE | re.DOTALL)
    lines = [line for line in block.splitlines() if line.strip()]

    assert 1 <= len(lines) <= 2
    assert lines[-1].endswith(ending)


def test_the_tour_does_the_whole_main_job() -> None:
    """From a folder of CSV files to a backup, no step is only told of."""
    done = {" ".join(shlex.split(command)[1:3]) for command in commands_of(page("README.md"))}
    wanted = {"import docs/shelf", "import --yes", "due", "unit show", "service record", "supply receive", "stock"}

    assert wanted | {"start", "reorder", "undo"} <= done
    assert any(command.startswith("backup") for command in done)


def test_no_screen_of_the_tour_is_wider_than_its_terminal() -> None:
    """Nothing is left for the terminal to cut."""
    blocks = re.findall(r"^```console\n(.*?)^```$", page("README.md"), re.MULTILINE | re.DOTALL)

    assert blocks
    assert [] == [line for block in blocks for line in block.splitlines() if width_of(line) > WIDTH]


@pytest.mark.parametrize("path", TREE)
def test_every_command_and_every_option_says_what_it_is_for(path: str) -> None:
    """Nobody has to guess what an option does."""
    _, command = TREE[path]

    assert command.help
    assert [] == [each.name for each in command.params if isinstance(each, click.Option) and not each.help]


def typed_in(text: str) -> Iterator[str]:
    """Yield every command line that a document tells to type, in running text or in a block."""
    for block in re.findall(r"^```(?:sh|console)\n(.*?)^```$", text, re.MULTILINE | re.DOTALL):
        for line in block.replace("\\\n", " ").splitlines():
            if line.removeprefix("$ ").startswith(("spindlebook ", ".venv/bin/spindlebook ")):
                yield line.removeprefix("$ ")
    outside = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    yield from re.findall(r"`((?:\.venv/bin/)?spindlebook [^`]+)`", outside)


@pytest.mark.parametrize("name", PAGES)
def test_what_a_document_tells_to_type_can_be_typed(name: str) -> None:
    """Commands and options that are only mentioned exist, too."""
    assert [] == [line for line in typed_in(page(name)) if not can_be_typed(shlex.split(line)[1:])]


def can_be_typed(words: list[str]) -> bool:
    """Say whether there is such a command with such options; COMMAND stands for any."""
    if words[0] in ("--db", "--today"):
        words = words[2:] or ["due"]
    path = "spindlebook"
    while words and f"{path} {words[0]}" in TREE:
        path, words = f"{path} {words[0]}", words[1:]
    options = {option for each in TREE[path][1].params for option in each.opts} | {"--help"}
    is_command = path != "spindlebook" or words[0] == "COMMAND" or words[0].startswith("-")
    return is_command and options.issuperset(word for word in words if word.startswith("--"))


@pytest.mark.parametrize("line", ["spindlebook dew", "spindlebook due --wihtin 60d", "spindlebook --db x.db dew"])
def test_a_slip_in_a_document_is_found(line: str) -> None:
    """A mistyped command and a mistyped option count as such."""
    assert not can_be_typed(shlex.split(line)[1:])


@pytest.mark.parametrize("name", PAGES)
def test_every_link_of_a_document_leads_to_a_file(name: str) -> None:
    """Links inside the project point to what is there."""
    links = re.findall(r"\]\((?!https?://)([^)#]+)\)", page(name))

    assert [] == [link for link in links if not (ROOT / name).parent.joinpath(link).exists()]


def test_the_page_of_the_folder_says_what_every_column_means() -> None:
    """No column of any file is only named."""
    rows = re.findall(r"^\| \*{0,2}`(\w+)`\*{0,2} \| (.*?) \| ?(.*) \|$", page("docs/csv-folder.md"), re.MULTILINE)

    assert sum(len(form.columns) for form in FORMS.values()) == len(rows)
    assert [] == [column for column, _form, meaning in rows if not meaning.strip()]


def test_the_page_of_the_folder_tells_the_program_s_own_limits_and_units() -> None:
    """Longest texts and units of measure are those of the program."""
    text = page("docs/csv-folder.md")
    (units,) = re.findall(r"^\| unit of measure \| one of (.*) \|$", text, re.MULTILINE)

    assert list(UNITS) == re.findall(r"`([^`]+)`", units)
    assert f"| short text | one line of at most {SHORT} characters |" in text
    assert f"| text | at most {LONG} characters," in text


def test_the_examples_of_the_folder_can_be_brought_in(tmp_path: Path, sqlite_book: Path) -> None:
    """Every file has an example; together they are a folder without a doubt, and a second time nothing is new."""
    text, folder = page("docs/csv-folder.md"), tmp_path / "examples"
    folder.mkdir()
    for file in FORMS:
        section = text.split(f"\n## {file}\n")[1].split("\n## ")[0]
        (example,) = re.findall(r"^```csv\n(.*?)^```$", section, re.MULTILINE | re.DOTALL)
        (folder / file).write_text(example, encoding="utf-8")

    first = run_cli(["import", "--yes", str(folder)], db=sqlite_book)
    again = run_cli(["import", "--yes", str(folder)], db=sqlite_book)

    assert 0 == first.code, first.err
    # The same are three amounts that every book begins with.
    assert re.match(r"new \d\d   changed 0   same 3   doubtful 0   refused 0\n", first.out), first.out
    assert again.out.endswith("rows already: nothing to do.\n"), again.out


def test_every_command_stands_in_the_reference() -> None:
    """Each has its own heading."""
    headings = set(re.findall(r"^#{2,3} (spindlebook.*)$", page("docs/commands.md"), re.MULTILINE))

    assert set(TREE) == headings
    assert {f"spindlebook {name}" for name in COMMANDS} < headings
