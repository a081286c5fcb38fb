"""Refuse what is no plain workbook before anything of it is unpacked, and stream its parts without entities.

A workbook is a zip of XML parts (ECMA-376 part 2, Open Packaging Conventions; part 1, SpreadsheetML). What a hostile or
broken one can do is bounded by what its directory says: zipfile unpacks no more of a part than the directory declares.
A document type, where entities would be declared, is refused at its first character; the conventions forbid it
(ECMA-376 part 2, clause 8.1.4 "XML usage").
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import NoReturn
from xml.parsers.expat import ExpatError, ParserCreate, XMLParserType
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from collection.errors import Refused

MB = 1 << 20
LARGEST_FILE = 20 * MB
MOST_PARTS = 200
LARGEST_UNPACKED = 200 * MB
MOST_RATIO = 50
RATIO_FROM = 16 * MB  # a small part of like rows may be packed 100:1 and is read in a blink
LONGEST_TAG = MB  # a tag or comment is kept whole while it is read
DEEPEST = 64  # elements within elements; a workbook needs fewer than ten

_DIRECTORY_ENTRY = b"PK\x01\x02"
_OLD_CONTAINER = bytes.fromhex("D0CF11E0A1B11AE1")
_CHUNK = 1 << 16
_UNSAFE_NAME = re.compile(r"^/|\\|:|(^|/)\.\.(/|$)|[\x00-\x1f]")
_AGAIN = 'Save it once more as "Excel workbook (.xlsx)" and import that file.'
_DAMAGED = "Open it in the spreadsheet program, let it repair what it can, and save it once more as .xlsx."

Start = Callable[[str, dict[str, str]], None]
End = Callable[[str], None]


class Parts:
    """The parts of a workbook whose container passed every check; `file` is its name for messages."""

    def __init__(self, file: str, archive: ZipFile) -> None:
        self.file = file
        self._archive = archive
        self._infos = {info.filename.lower(): info for info in archive.infolist()}

    def __contains__(self, name: str) -> bool:
        return name.lower() in self._infos

    def damaged(self, name: str, why: str) -> NoReturn:
        """Refuse the file because of what was seen in one part."""
        raise Refused(f"{self.file} is damaged: {why} (part {name}).", _DAMAGED)

    def walk(
        self,
        name: str,
        start: Start,
        end: End | None = None,
        parser: XMLParserType | None = None,
        after: Callable[[], None] | None = None,
    ) -> None:
        """Stream one part through handlers that get plain names, without prefixes; the rest as in `parse`."""
        depth = 0

        def start_plain(element: str, attrs: dict[str, str]) -> None:
            nonlocal depth
            depth += 1
            if depth > DEEPEST:
                self.too_deep(name)
            start(element.rpartition(":")[2], attrs)

        def end_plain(element: str) -> None:
            nonlocal depth
            depth -= 1
            if end is not None:
                end(element.rpartition(":")[2])

        self.parse(name, start_plain, end_plain, parser, after)

    def too_deep(self, name: str) -> NoReturn:
        """Refuse a part whose elements are nested without end: each open one takes memory."""
        self.damaged(name, f"more than {DEEPEST} elements stand within one another")

    def parse(
        self,
        name: str,
        start: Start,
        end: End,
        parser: XMLParserType | None = None,
        after: Callable[[], None] | None = None,
    ) -> None:
        """Stream one part through the two handlers as it is; they count how deep elements are nested.

        parser: one that the caller made to set its text handler on the way. after: called after each 64 KB, to stop
        what is being collected. Raises Refused where the part is missing, damaged or declares a document type.
        """
        info = self._infos.get(name.lower())
        if info is None:
            self.damaged(name, "a part that it counts on is missing")
        parser = parser or ParserCreate()
        parser.buffer_text = True
        parser.StartElementHandler = start
        parser.EndElementHandler = end
        parser.StartDoctypeDeclHandler = self._refuse_doctype
        try:
            with self._archive.open(info) as stream:
                fed = 0
                while chunk := stream.read(_CHUNK):
                    parser.Parse(chunk, False)
                    fed += len(chunk)
                    if fed - parser.CurrentByteIndex > LONGEST_TAG:
                        self.damaged(name, "one tag or comment in it is longer than 1 MB")
                    if after is not None:
                        after()
            parser.Parse(b"", True)
        except ExpatError as error:
            self.damaged(name, f"its XML breaks off or is wrong in line {error.lineno}")
        except (BadZipFile, zlib.error, EOFError, OSError):
            self.damaged(name, "its contents do not unpack to what its directory says")
        except (LookupError, ValueError):
            self.damaged(name, "it is written in an unknown encoding")

    def _refuse_doctype(self, _name: str, _system: str | None, _public: str | None, _subset: int) -> NoReturn:
        raise Refused(
            f"{self.file} declares a document type of its own, which no workbook may: it could unfold without end.",
            f"Do not trust this file. If the table in it is yours: {_AGAIN}",
        )


def open_parts(path: Path) -> Parts:
    """Return the parts of a workbook, or refuse it: with a password, with macros, another format, too big, damaged.

    Nothing is unpacked. Raises Refused, which names the file, what was seen, the rule and what to do.
    """
    data = _contents(path)
    if data.startswith(_OLD_CONTAINER):
        _refuse_old_container(path.name, data)
    if not data.startswith(b"PK"):
        _refuse_no_zip(path.name, data)
    if data.count(_DIRECTORY_ENTRY) > 5 * MOST_PARTS:  # before zipfile makes an object of each
        _refuse_parts(path.name, data.count(_DIRECTORY_ENTRY))
    try:
        archive = ZipFile(BytesIO(data))
    except (BadZipFile, ValueError, NotImplementedError, OSError, OverflowError) as error:
        raise Refused(
            f"{path.name} is damaged: its directory cannot be read, perhaps its end is missing.", _DAMAGED
        ) from error
    infos = archive.infolist()
    _check_form(path.name, infos)
    _check_names(path.name, infos)
    _check_sizes(path.name, infos)
    return Parts(path.name, archive)


def _contents(path: Path) -> bytes:
    name = path.name
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise Refused(f"{name} is a folder or a device, not a workbook.", "Name an .xlsx file.")
        if path.suffix.lower() in (".xlsm", ".xltm", ".xlam"):
            _refuse_macros(name)
        if size > LARGEST_FILE:
            raise Refused(
                f"{name} has {size / MB:.1f} MB; a workbook to import has at most {LARGEST_FILE // MB} MB.",
                "Take out pictures and sheets that are not needed, or split the table, and save it once more.",
            )
        with path.open("rb") as file:
            return file.read(LARGEST_FILE)
    except FileNotFoundError:
        raise Refused(f"There is no file {path}.", "Check the name and the folder.") from None
    except OSError as error:
        raise Refused(f"{path} cannot be read: {error.strerror}.", "Check who may read the file.") from error


def _refuse_old_container(name: str, data: bytes) -> NoReturn:
    if "EncryptedPackage".encode("utf-16-le") in data:
        raise Refused(
            f"{name} is locked with a password; a workbook is read only when it is open.",
            "Save it again without a password (in the spreadsheet program: protection of the file) and import it.",
        )
    raise Refused(f"{name} is in the old .xls format; only .xlsx is read.", _AGAIN)


def _refuse_no_zip(name: str, data: bytes) -> NoReturn:
    if not data:
        raise Refused(f"{name} is empty, 0 bytes.", "Look for the file that has the table, or save it once more.")
    start = data[:512].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<?xml", b"<html", b"<!doctype", b"<table")):
        raise Refused(f"{name} is a page or an XML file with the name of a workbook; only .xlsx is read.", _AGAIN)
    raise Refused(
        f"{name} is no workbook: it does not begin as one, whatever its name says.",
        f"If it is a CSV file, name it .csv; if not, open it in a spreadsheet program. {_AGAIN}",
    )


def _refuse_macros(name: str) -> NoReturn:
    raise Refused(
        f"{name} has macros (programs) in it; only workbooks without any are read.",
        'Save it as "Excel workbook (.xlsx)", which leaves the macros out, and import that file.',
    )


def _refuse_parts(name: str, parts: int) -> NoReturn:
    raise Refused(
        f"{name} is made of {parts} parts; a workbook to import has at most {MOST_PARTS}.",
        "Copy the sheets that are needed into a new workbook and import that one.",
    )


def _check_form(file: str, infos: list[ZipInfo]) -> None:
    """Refuse what is another format, or one with macros or links to other files."""
    names = {info.filename.lower() for info in infos}
    if any(name.endswith("vbaproject.bin") or name.startswith("xl/macrosheets/") for name in names):
        _refuse_macros(file)
    if any(name.startswith("xl/externallinks/") for name in names):
        raise Refused(
            f"{file} fetches values from other files; only what stands in the workbook itself is read.",
            "Copy the table, paste it into a new workbook as values only, and import that one.",
        )
    if "xl/workbook.bin" in names:
        raise Refused(f"{file} is a binary workbook (.xlsb); only .xlsx is read.", _AGAIN)
    if "content.xml" in names and "mimetype" in names:
        raise Refused(f"{file} is an OpenDocument file (.ods); only .xlsx is read.", _AGAIN)


def _check_names(file: str, infos: list[ZipInfo]) -> None:
    """Refuse names that point out of the container, twins, and parts that cannot be unpacked here."""
    if len(infos) > MOST_PARTS:
        _refuse_parts(file, len(infos))
    seen: set[str] = set()
    for info in infos:
        name = info.filename
        if _UNSAFE_NAME.search(name):
            raise Refused(
                f"{file} has a part named {name[:60]!r}, which points out of the workbook; no workbook has such parts.",
                f"Do not trust this file. If the table in it is yours: {_AGAIN}",
            )
        if name.lower() in seen:
            raise Refused(f"{file} has the part {name[:60]!r} twice; which one counts cannot be told.", _DAMAGED)
        seen.add(name.lower())
        if info.flag_bits & 1:
            raise Refused(f"{file} is a zip with a password.", "Save it again without a password and import that file.")
        if info.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
            raise Refused(f"{file} is packed in a way that workbooks are not (part {name[:60]!r}).", _AGAIN)


def _check_sizes(file: str, infos: list[ZipInfo]) -> None:
    """Refuse what would unpack to too much, by what the directory declares and zipfile holds it to."""
    unpacked = sum(info.file_size for info in infos)
    if unpacked > LARGEST_UNPACKED:
        raise Refused(
            f"{file} would unpack to {unpacked / MB:.0f} MB; a workbook to import has at most "
            f"{LARGEST_UNPACKED // MB} MB.",
            "Copy the table into a new workbook and import that one; if it is that long, split it.",
        )
    for info in infos:
        if info.file_size > RATIO_FROM and info.file_size > MOST_RATIO * info.compress_size:
            ratio = info.file_size // max(1, info.compress_size)
            raise Refused(
                f"{file} unpacks {ratio} to 1 in part {info.filename[:60]}, nearly all emptiness or repetition; "
                f"at most {MOST_RATIO} to 1 is read.",
                "Delete the empty rows and columns beside the table (not only what is in them), or copy the table into "
                "a new workbook, and import that one.",
            )
