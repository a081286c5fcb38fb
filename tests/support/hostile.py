"""Workbooks written part by part, for tests: plain ones, as other writers leave them, and hostile ones.

Names of parts, elements and attributes: ECMA-376 part 1, clause 18, and part 2.
"""

from __future__ import annotations

import random
import struct
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

Content = Mapping[str, str | bytes]

MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
RELATED = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
SHEET = "xl/worksheets/sheet1.xml"
LAUGHS = (
    '<!DOCTYPE a [<!ENTITY l0 "ha">'
    + "".join(f'<!ENTITY l{n} "' + f"&l{n - 1};" * 10 + '">' for n in range(1, 10))
    + "]>"
)


def relations(*targets: tuple[str, str]) -> str:
    """Return a part of relations to (kind, target), named r1, r2 and so on."""
    rows = "".join(
        f'<Relationship Id="r{n}" Type="{RELATED}/{kind}" Target="{target}"/>'
        for n, (kind, target) in enumerate(targets, 1)
    )
    return f'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">{rows}</Relationships>'


def sheet(data: str, after: str = "", before: str = "") -> str:
    """Return a worksheet part around what stands in its sheetData."""
    return f"<worksheet {MAIN}>{before}<sheetData>{data}</sheetData>{after}</worksheet>"


def inline(text: str, place: str = "A1") -> str:
    """Return a cell that holds its text itself; without a place it stands beside the one before."""
    named = f' r="{place}"' if place else ""
    return f'<c{named} t="inlineStr"><is><t>{text}</t></is></c>'


def workbook(
    data: str = f'<row r="1">{inline("tag")}</row>', *, after: str = "", book: str = ""
) -> dict[str, str | bytes]:
    """Return the parts of a workbook with one sheet, without styles and shared strings; `book` stands in its part."""
    return {
        "_rels/.rels": relations(("officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": f'<workbook {MAIN} xmlns:r="{RELATED}">{book}'
        '<sheets><sheet name="Shelf" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": relations(
            ("worksheet", "worksheets/sheet1.xml"), ("styles", "styles.xml"), ("sharedStrings", "sharedStrings.xml")
        ),
        SHEET: sheet(data, after),
    }


def pack(path: Path, parts: Content) -> Path:
    """Write parts as a zip file."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def declare_size(path: Path, part: str, size: int) -> Path:
    """Let the directory of a zip file say another unpacked size of a part than it has."""
    data = bytearray(path.read_bytes())
    at = data.rindex(part.encode()) - 46  # the last is the directory's own entry; .ZIP specification 6.3.10, 4.3.12
    assert data[at : at + 4] == b"PK\x01\x02"
    data[at + 24 : at + 28] = struct.pack("<I", size)
    path.write_bytes(data)
    return path


def swollen(megabytes: int) -> str:
    """Return text that packs some 30 to 1: little that is new, much that repeats."""
    dice = random.Random(4)
    blocks = []
    for _ in range(megabytes * 16):
        fresh = dice.randbytes(1500).hex()
        blocks.append((fresh * 22)[: 1 << 16])
    return "".join(blocks)


def _bytes(content: bytes) -> Callable[[Path], Path]:
    def write(path: Path) -> Path:
        path.write_bytes(content)
        return path

    return write


def _parts(make: Callable[[], Content]) -> Callable[[Path], Path]:
    return lambda path: pack(path, make())


def _rows(count: int, inside: str = "", attributes: str = "") -> str:
    return "".join(f'<row r="{row}"{attributes}>{inside}</row>' for row in range(1, count + 1))


def _million_rows_hardly_packed() -> Content:
    dice = random.Random(5)
    return workbook("".join(f'<row r="{row}" ht="{dice.random()}"/>' for row in range(1, 60_001)))


def _cut(path: Path) -> Path:
    data = pack(path, workbook(_rows(2000, inline("x", "")))).read_bytes()
    path.write_bytes(data[: len(data) // 2])
    return path


def _one_byte_wrong(path: Path) -> Path:
    data = bytearray(pack(path, workbook(_rows(2000, '<c t="str"><v>x</v></c>'))).read_bytes())
    at = data.index(SHEET.encode()) + len(SHEET) + 20
    data[at : at + 40] = bytes(40)
    path.write_bytes(data)
    return path


def _twice(path: Path) -> Path:
    pack(path, workbook())
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(SHEET.upper(), sheet(inline("another")))
    return path


def _with_password(path: Path) -> Path:
    data = bytearray(pack(path, workbook()).read_bytes())
    at = data.rindex(SHEET.encode()) - 46
    data[at + 8] |= 1
    path.write_bytes(data)
    return path


def _packed_otherwise(path: Path) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_BZIP2) as archive:
        for name, content in workbook().items():
            archive.writestr(name, content)
    return path


def _old_container(inner: str) -> bytes:
    return bytes.fromhex("D0CF11E0A1B11AE1") + bytes(1000) + inner.encode("utf-16-le") + bytes(1000)


_STYLED = "".join(f'<c r="{letter}{{row}}" s="1"/>' for letter in "ABCDEFGHIJKL")

_MERGE = '<mergeCell ref="A1:B1"/>'
_MANY_SHEETS = "".join(f'<sheet name="{n}"/>' for n in range(300))
_SAME_SHEET = "".join(f'<sheet name="{n}" r:id="r1"/>' for n in range(100))

# What is written, under which name, and words of the refusal that name what was seen.
HOSTILE: dict[str, tuple[Callable[[Path], Path], str]] = {
    "a password.xlsx": (_bytes(_old_container("EncryptedPackage")), "is locked with a password"),
    "old.xls": (_bytes(_old_container("Workbook")), "is in the old .xls format"),
    "macros by name.xlsm": (_parts(workbook), "has macros"),
    "macros.xlsx": (_parts(lambda: {**workbook(), "xl/vbaProject.bin": b"x"}), "has macros"),
    "links.xlsx": (
        _parts(lambda: {**workbook(), "xl/externalLinks/externalLink1.xml": "<a/>"}),
        "fetches values from other files",
    ),
    "binary.xlsx": (_parts(lambda: {"xl/workbook.bin": b"x"}), "is a binary workbook (.xlsb)"),
    "open document.xlsx": (_parts(lambda: {"mimetype": "x", "content.xml": "<a/>"}), "is an OpenDocument file"),
    "a list.xlsx": (_bytes(b"tag,model\nD1,DM-8\n"), "is no workbook"),
    "a page.xlsx": (_bytes(b"\xef\xbb\xbf<html><table/></html>"), "is a page or an XML file"),
    "nothing.xlsx": (_bytes(b""), "is empty, 0 bytes"),
    "cut off.xlsx": (_cut, "its directory cannot be read"),
    "bytes wrong.xlsx": (_one_byte_wrong, "do not unpack to what its directory says"),
    "pictures.xlsx": (_parts(lambda: {"photo.png": b"x"}), "the part that lists the sheets is missing"),
    "sheet gone.xlsx": (
        _parts(lambda: {name: content for name, content in workbook().items() if name != SHEET}),
        "a part that it counts on is missing",
    ),
    "slip.xlsx": (_parts(lambda: {**workbook(), "../../evil.xml": "<a/>"}), "'../../evil.xml', which points out"),
    "absolute.xlsx": (_parts(lambda: {**workbook(), "/etc/evil.xml": "<a/>"}), "'/etc/evil.xml', which points out"),
    "twins.xlsx": (_twice, "'XL/WORKSHEETS/SHEET1.XML' twice"),
    "zip password.xlsx": (_with_password, "is a zip with a password"),
    "bzip.xlsx": (_packed_otherwise, "is packed in a way that workbooks are not"),
    "laughs in the sheet.xlsx": (
        _parts(lambda: {**workbook(), SHEET: LAUGHS + sheet(inline("&l9;"))}),
        "declares a document type",
    ),
    "laughs in the texts.xlsx": (
        _parts(lambda: {**workbook(), "xl/sharedStrings.xml": f"{LAUGHS}<sst><si><t>&l9;</t></si></sst>"}),
        "declares a document type",
    ),
    "laughs in the list.xlsx": (
        _parts(lambda: {**workbook(), "xl/workbook.xml": f"{LAUGHS}<workbook>&l9;</workbook>"}),
        "declares a document type",
    ),
    "far cell.xlsx": (
        _parts(lambda: workbook(f'<row r="1048576">{inline("x", "XFD1048576")}</row>')),
        "has 'x' in cell XFD1048576, far from any table",
    ),
    "million rows.xlsx": (_parts(lambda: workbook(_rows(1_000_000))), "10,000 rows with nothing in them"),
    "emptiness.xlsx": (_parts(lambda: workbook("<row/>" * 4_000_000)), "nearly all emptiness or repetition"),
    "rows hardly packed.xlsx": (_parts(_million_rows_hardly_packed), "10,000 rows with nothing in them"),
    "styled emptiness.xlsx": (
        _parts(
            lambda: workbook("".join(f'<row r="{row}">{_STYLED.format(row=row)}</row>' for row in range(1, 12_001)))
        ),
        "10,000 rows with nothing in them",
    ),
    "huge merge.xlsx": (
        _parts(lambda: workbook(after='<mergeCells><mergeCell ref="A1:XFD2000"/></mergeCells>')),
        "has 32,768,000 cells merged into one, A1:XFD2000",
    ),
    "many merges.xlsx": (
        _parts(lambda: workbook(after=f"<mergeCells>{_MERGE * 500_000}</mergeCells>")),
        "more than 10,000 merged ranges",
    ),
    "unpacks to much.xlsx": (
        lambda path: declare_size(pack(path, workbook()), SHEET, 201 << 20),
        "would unpack to 201 MB",
    ),
    "says it is small.xlsx": (
        lambda path: declare_size(pack(path, workbook(_rows(50_000, "<c><v>1</v></c>"))), SHEET, 100),
        "is damaged",
    ),
    "many parts.xlsx": (_parts(lambda: {f"p{n}": "" for n in range(3000)}), "is made of 3000 parts"),
    "long text.xlsx": (
        _parts(lambda: workbook(f'<row r="1">{inline(swollen(8))}</row>')),
        "has more than 32,767 characters",
    ),
    "long shared text.xlsx": (
        _parts(lambda: {**workbook(), "xl/sharedStrings.xml": f"<sst><si><t>{swollen(8)}</t></si></sst>"}),
        "has more than 32,767 characters",
    ),
    "deep.xlsx": (_parts(lambda: workbook("<a>" * 5_000_000)), "more than 64 elements stand within one another"),
    "deep list.xlsx": (
        _parts(lambda: {**workbook(), "xl/workbook.xml": "<a>" * 5_000_000}),
        "more than 64 elements stand within one another",
    ),
    "long tag.xlsx": (_parts(lambda: workbook(f'<row r="{"1" * 15_000_000}"/>')), "is longer than 1 MB"),
    "sheets without end.xlsx": (
        _parts(lambda: {**workbook(), "xl/workbook.xml": f"<workbook>{_MANY_SHEETS}</workbook>"}),
        "lists more than 200 sheets",
    ),
    "one sheet many times.xlsx": (
        _parts(
            lambda: {
                **workbook(),
                "xl/workbook.xml": f'<workbook xmlns:r="{RELATED}">{_SAME_SHEET}</workbook>',
            }
        ),
        "is stored in the place of another one",
    ),
    "two of a name.xlsx": (
        _parts(lambda: {**workbook(), "xl/workbook.xml": '<workbook><sheet name="A"/><sheet name="a"/></workbook>'}),
        "two sheets are named 'a'",
    ),
    "broken off.xlsx": (_parts(lambda: {**workbook(), SHEET: f"<worksheet {MAIN}><sheetData><row"}), "breaks off"),
    "pointer.xlsx": (_parts(lambda: workbook('<row r="1"><c t="s"><v>7</v></c></row>')), "a text that is not there"),
    "back pointer.xlsx": (
        _parts(lambda: workbook('<row r="1"><c t="s"><v>-1</v></c></row>')),
        "a text that is not there",
    ),
    "row twice.xlsx": (
        _parts(lambda: workbook('<row r="1"><c><v>1</v></c></row>' * 2)),
        "row 1 stands there twice",
    ),
    "cell twice.xlsx": (
        _parts(lambda: workbook('<row r="1"><c r="B1"><v>1</v></c><c r="B1"><v>2</v></c></row>')),
        "cell B1 stands there twice",
    ),
    "cell astray.xlsx": (
        _parts(lambda: workbook('<row r="1"><c r="A2"><v>1</v></c></row>')),
        "cell A2 stands in row 1",
    ),
    "no column.xlsx": (
        _parts(lambda: workbook('<row r="1"><c r="XFE1"><v>1</v></c></row>')),
        "'XFE' is no column",
    ),
    "no row.xlsx": (_parts(lambda: workbook('<row r="1048577"/>')), "'1048577' is no row"),
    "odd encoding.xlsx": (
        _parts(lambda: {**workbook(), SHEET: '<?xml version="1.0" encoding="hugo-8"?><worksheet/>'}),
        "is damaged",
    ),
}


def write_hostile(folder: Path) -> dict[str, str]:
    """Write all of them into a folder; return of each the words that its refusal must have."""
    for name, (write, _words) in HOSTILE.items():
        write(folder / name)
    return {name: words for name, (_write, words) in HOSTILE.items()}
