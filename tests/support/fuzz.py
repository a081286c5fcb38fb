"""Files spoilt by chance: random bytes, and files of ours with bytes, lines or packed parts changed.

The ways are the usual ones (bit flips, cut off, repeated, spliced, odd numbers and texts in the place of others; common
practice, no source). Parts of a zip file are changed unpacked and packed again, since a changed packed byte is only
ever seen by the check of its sum.
"""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable, Sequence

_PIECES = (
    b"", b"\0", b"\n", b"\r\n", b'"', b"'", b",", b";", b"\t", b"=", b"-", b"0", b"-1", b"1e400", b"NaN", b"9" * 400,
    b"\xff\xfe", b"\xef\xbb\xbf", b"\xed\xa0\x80", b"\xc3", b"{}", b"[]", b"[" * 2000, b"null", b"true", b"\\ud800",
    b'{"a":' * 300, b"</", b"<!--", b"]]>", b"&lt;", b"&#0;", b"&#xD800;", b"{{", b"{% raw %}", b"%s", b"\\u0000",
    b"{% for x in range(10**9) %}", b"2026-02-30", b"9999-12-31", b"0000-00-00", b"12,5", b"D1", b"ready", b"\x1b[2J",
    b"A1:XFD1048576", b"../../x", "\N{FLOPPY DISK}\N{RIGHT-TO-LEFT OVERRIDE}\N{ARABIC-INDIC DIGIT THREE}".encode(),
)  # fmt: skip
_MOST = 400  # bytes of pure chance


def spoilt(content: bytes, other: bytes, dice: random.Random) -> bytes:
    """Return content spoilt in one to three ways; `other` is a file of the same kind from which pieces are taken."""
    if dice.random() < 0.04:
        return dice.randbytes(dice.randrange(_MOST))
    if zipfile.is_zipfile(io.BytesIO(content)) and dice.random() < 0.75:
        return _repacked(content, dice)
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        content = dice.choice(_WAYS)(content, other, dice)
    return content


def _flip(content: bytes, _other: bytes, dice: random.Random) -> bytes:
    data = bytearray(content)
    for _ in range(dice.choice((1, 1, 2, 8))):
        if data:
            data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    return bytes(data)


def _cut(content: bytes, _other: bytes, dice: random.Random) -> bytes:
    return content[: dice.randrange(len(content) + 1)]


def _drop(content: bytes, _other: bytes, dice: random.Random) -> bytes:
    begin, end = _span(content, dice)
    return content[:begin] + content[end:]


def _repeat(content: bytes, _other: bytes, dice: random.Random) -> bytes:
    begin, end = _span(content, dice)
    return content[:end] + content[begin:end] * dice.choice((1, 2, 50)) + content[end:]


def _insert(content: bytes, _other: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(content) + 1)
    return content[:at] + dice.choice(_PIECES) + content[at:]


def _put(content: bytes, _other: bytes, dice: random.Random) -> bytes:
    """Put a piece in the place of a value: what stands between two marks of text."""
    begin = dice.randrange(len(content) + 1)
    end = begin
    while end < len(content) and content[end : end + 1] not in b',;:"<>{}[]\r\n\t' and end - begin < 60:
        end += 1
    return content[:begin] + dice.choice(_PIECES) + content[end:]


def _splice(content: bytes, other: bytes, dice: random.Random) -> bytes:
    begin, end = _span(other, dice)
    at, till = _span(content, dice)
    return content[:at] + other[begin:end] + content[till:]


def _lines(content: bytes, other: bytes, dice: random.Random) -> bytes:
    lines = content.split(b"\n")
    one, two = dice.randrange(len(lines)), dice.randrange(len(lines))
    how = dice.randrange(3)
    if how == 0:
        lines[one], lines[two] = lines[two], lines[one]
    elif how == 1:
        lines.insert(one, lines[two])
    else:
        lines[one] = dice.choice(other.split(b"\n"))
    return b"\n".join(lines)


def _span(content: bytes, dice: random.Random) -> tuple[int, int]:
    begin = dice.randrange(len(content) + 1)
    return begin, min(len(content), begin + int(dice.expovariate(1 / 40)))


_WAYS: Sequence[Callable[[bytes, bytes, random.Random], bytes]] = (
    _flip, _cut, _drop, _repeat, _insert, _insert, _put, _put, _splice, _lines,
)  # fmt: skip


def _repacked(content: bytes, dice: random.Random) -> bytes:
    """Return a zip file with one part spoilt, left out, said twice or named otherwise."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = [(each.filename, archive.read(each)) for each in archive.infolist()]
    at = dice.randrange(len(parts))
    name, data = parts[at]
    how = dice.random()
    if how < 0.85:
        parts[at] = (name, dice.choice(_WAYS)(data, dice.choice(parts)[1], dice))
    elif how < 0.9:
        del parts[at]
    elif how < 0.95:
        parts.append((f"{name}.xml", data))
    else:
        parts[at] = (name, dice.choice(parts)[1])
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts:
            archive.writestr(name, data)
    return made.getvalue()
