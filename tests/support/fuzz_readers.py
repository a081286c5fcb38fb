"""Every reader of files that the program has, each with files that it reads and the lines that make it read them."""

from __future__ import annotations

import io
import json
import random
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl
from PIL import Image

from tests.support.bench import IPA, SWAB
from tests.support.cli import run_cli
from tests.workbooks import english_collector, messy_desk

Line = Sequence[str]
_SERVICE = {
    "on": "2026-02-28",
    "did": ["clean head", "set spindle speed"],
    "minutes": 20,
    "by": "Ilse Vanterpool",
    "as_found": [
        "spindle speed=301.2 @bench counter",
        {"measurement": "head condition", "value": "marginal"},
        {"measurement": "spindle speed", "value": "199.2", "measured_in": "ms", "instrument": "hand strobe"},
    ],
    "used": [{"supply": IPA, "quantity": 2, "measured_in": "ml", "lot": "A-2"}, f"{SWAB}=1"],
    "part": [{"part": "belt", "supply": "belt 118 x 6", "lot": "B-1"}],
    "turned": [{"screw": "speed trimmer", "amount": "1/8", "direction": "clockwise"}],
    "lubed": ["rails=rail grease, cleaned off first"],
    "as_left": ["spindle speed=300.0 @bench counter", "head condition=pass"],
    "outcome": "ready",
}
_COPIED = ("bench-sheet", "due", "unit-history", "loan-slip", "shopping")
_PAGES: Mapping[str, Line] = {"bench-sheet": ["D1"], "unit-history": ["D1"], "loan-slip": ["D4"]}
_MORE: Sequence[Line] = ((), (), ["--json"], ["--decimal-comma"], ["--encoding", "cp1252"], ["--reason", "put right"])
_MANIFEST = "backup.manifest.json"
_KEPT = (["due"], ["drift"], ["reorder"])
_SAFE = (["backup", "list"], ["where"], ["due"], ["backup"])
_OPENED = (["unit", "list"], ["unit", "show", "D1"], ["verify"], ["history"], ["due"], ["stock"])


@dataclass(frozen=True)
class Reader:
    """Something that reads files: `files` of a kind, `lines` that read the one at {file}, `beside` it its neighbours.

    Without a source of chance the lines are the plainest ones.
    piped: whether the file is standard input of the line instead. is_book: the file is the book itself.
    """

    name: str
    files: Mapping[str, bytes]
    lines: Callable[[str, random.Random | None], Sequence[Line]]
    beside: Mapping[str, bytes] = field(default_factory=dict)
    piped: bool = False
    is_book: bool = False

    def place(self, folder: Path, name: str, content: bytes) -> None:
        """Write a file and what stands beside it into an empty folder, kept backups into the one beside that."""
        if name.startswith("../"):
            shutil.rmtree((folder / name).parent, ignore_errors=True)
        for other, kept in {**self.beside, name: content}.items():
            (folder / other).parent.mkdir(parents=True, exist_ok=True)
            (folder / other).write_bytes(kept)


def readers(book: Path, made: Path) -> list[Reader]:
    """Return every reader; `made` is a folder for what the book is asked to write, so that readers have it to read."""

    def write(*words: str) -> None:
        ran = run_cli(words, db=book)
        assert ran.code == 0, (words, ran)

    write("export", "folder", str(made / "folder"))
    write("export", "workbook", str(made / "book.xlsx"))
    write("backup", str(made / "backup"))
    for ending in ("xlsx", "csv"):
        given = ("--of", "spindle speed", "--instrument", "bench counter")
        write("round", *given, "--write", str(made / f"round.{ending}"))
    _fill_in(made)
    for report in _COPIED:
        write("report", "copy", report, str(made / "reports" / report))
    english_collector.build().save(made / "own.xlsx")
    messy_desk.build().save(made / "messy.xlsx")
    write("import", "--template", str(made / "template.xlsx"))
    write("backup")
    write("import", str(made / "own.xlsx"), "--map", str(made / "map.json"), "--json")
    return [*_tables(made), *_bench(made), *_paper(made), *_whole(made, book)]


def _fill_in(made: Path) -> None:
    """Fill in the forms of a round."""
    plain = made / "round.csv"
    text = plain.read_text(encoding="utf-8")
    plain.write_text(text.replace("295.5 to 304.5,", "295.5 to 304.5,300.2"), encoding="utf-8")
    form = openpyxl.load_workbook(made / "round.xlsx")
    for row in form["round"].iter_rows(min_row=7):
        row[5].value = "300.2"
    form.save(made / "round.xlsx")


def _tables(made: Path) -> list[Reader]:
    own = {name: (made / name).read_bytes() for name in ("own.xlsx", "messy.xlsx", "template.xlsx")}
    sheet = b"Tag;Maker;Model;Bought;rpm before;rpm after;Notes\r\nT-9;Velkari;VK 1;06.04.2019;298,2;300,0;hums\r\n"
    folder = {f"f/{name}": content for name, content in _files(made / "folder", "*.csv").items()}
    mapping = (made / "map.json").read_bytes()
    return [
        Reader("folder", folder, _import("f"), beside=folder),
        Reader("one file of a folder", folder, _import("f")),
        Reader("own workbook", own, _import("{file}")),
        Reader("own table", {"own.csv": sheet}, _import("{file}")),
        Reader("exported workbook", _files(made, "book.xlsx"), _import("{file}")),
        Reader(
            "mapping",
            {"map.json": mapping},
            lambda _file, _dice: [["import", "own.xlsx", "--map", "{file}", "--yes"]],
            beside={"own.xlsx": own["own.xlsx"]},
        ),
    ]


def _import(what: str) -> Callable[[str, random.Random | None], Sequence[Line]]:
    def lines(_file: str, dice: random.Random | None) -> Sequence[Line]:
        return [["import", what, "--yes", *(dice.choice(_MORE) if dice else ())]]

    return lines


def _bench(made: Path) -> list[Reader]:
    service = json.dumps(_SERVICE, indent=1).encode()
    scanned = b"D1\nD2\nd3\n\nD99\nD4 \nP1\n"
    return [
        Reader("service", {"service.json": service}, _typed("service", "record", "D1", "--from", "{file}")),
        Reader(
            "piped service", {"service.json": service}, _typed("service", "record", "D1", "--from", "-"), piped=True
        ),
        Reader("round", _files(made, "round.*"), _typed("round", "--from", "{file}", "--yes")),
        Reader(
            "piped round",
            {"lines": b"D1=300.1\nD2=199.8 ms\nD3=360.2\n"},
            _typed("round", "--of", "spindle speed", "--instrument", "bench counter"),
            piped=True,
        ),
        Reader("shelf-check", {"tags": scanned}, _typed("shelf-check", "bench", "--file", "{file}")),
        Reader("piped shelf-check", {"tags": scanned}, _typed("shelf-check", "bench"), piped=True),
    ]


def _typed(*words: str) -> Callable[[str, random.Random | None], Sequence[Line]]:
    return lambda _file, _dice: [words]


def _paper(made: Path) -> list[Reader]:
    templates = {f"reports/{name}": content for name, content in _files(made / "reports", "**/*").items()}
    return [
        Reader("photo", _pictures(), lambda _file, _dice: [
            ["photo", "add", "D2", "{file}"],
            ["report", "damage", "DL1", "--to", "page.html"],
        ]),
        Reader("template", templates, _page, beside=templates),
    ]  # fmt: skip


def _page(file: str, _dice: random.Random | None) -> Sequence[Line]:
    named = file.split("/")[1]
    report = named if named in _COPIED else "due"
    return [["report", report, *_PAGES.get(report, ()), "--report-dir", f"reports/{report}", "--to", "page.html"]]


def _pictures() -> dict[str, bytes]:
    pictures = {"paper.pdf": b"%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"}
    for form in ("png", "jpeg", "gif", "webp", "tiff"):
        stream = io.BytesIO()
        Image.effect_noise((40, 30), 60).convert("RGB").save(stream, form)
        pictures[f"front.{form}"] = stream.getvalue()
    return pictures


def _whole(made: Path, book: Path) -> list[Reader]:
    backup = {name: (made / name).read_bytes() for name in ("backup", _MANIFEST)}
    restored = _typed("restore", "backup", "--yes")
    kept = {f"../{name}": content for name, content in _files(book.parent, "kept/*").items()}
    noted = _files(made, "state/**/*")
    former = {name: _former(content) for name, content in kept.items() if name.endswith(".manifest.json")}
    return [
        Reader("backup", backup, restored, beside=backup),
        Reader("manifest", {_MANIFEST: backup[_MANIFEST]}, restored, beside=backup),
        Reader("manifest of an older program", {_MANIFEST: _former(backup[_MANIFEST])}, restored, beside=backup),
        Reader("kept result", _kept(made, book), _keep),
        Reader("kept backups", kept, _keep_safe, beside=kept | noted),
        Reader("kept by an older program", former, _keep_safe, beside=kept | former | noted),
        Reader("note of the last backup", noted, _keep_safe, beside=noted),
        Reader("book", {book.name: book.read_bytes()}, _look, is_book=True),
    ]  # fmt: skip


def _former(manifest: bytes) -> bytes:
    """Return a manifest as programs wrote them that gave it no digest of its own."""
    told = json.loads(manifest) | {"format": "spindlebook backup 1"}
    return json.dumps({name: told[name] for name in told if name not in ("book", "why", "digest")}).encode()


def _kept(made: Path, book: Path) -> dict[str, bytes]:
    """Return what is kept of slow results after they were asked for."""
    for line in _KEPT:
        assert run_cli(line, db=book).code == 0
    return _files(made, "cache/**/*")


def _keep(_file: str, dice: random.Random | None) -> Sequence[Line]:
    return [dice.choice(_KEPT)] if dice else _KEPT


def _keep_safe(_file: str, dice: random.Random | None) -> Sequence[Line]:
    return [dice.choice(_SAFE)] if dice else _SAFE


def _look(_file: str, dice: random.Random | None) -> Sequence[Line]:
    return [dice.choice(_OPENED)] if dice else _OPENED


def _files(folder: Path, pattern: str) -> dict[str, bytes]:
    return {
        file.relative_to(folder).as_posix(): file.read_bytes()
        for file in sorted(folder.glob(pattern))
        if file.is_file()
    }


def cleared(folder: Path) -> None:
    """Take everything out of a folder, which stays the one that commands run in."""
    for place in folder.iterdir():
        if place.is_dir() and not place.is_symlink():
            shutil.rmtree(place)
        else:
            place.unlink()
