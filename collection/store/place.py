"""A file gets its name when it is whole: it is made beside its place, made durable, and then named."""

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

# What a file system without hard links answers, as those of memory sticks and some network shares.
# Windows says EINVAL where others say EPERM.
_NO_LINKS = {errno.EPERM, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL}


@contextmanager
def beside(file: Path) -> Iterator[Path]:
    """An empty file of another name in the same folder, for its owner only; gone afterwards whatever happened."""
    opened, name = tempfile.mkstemp(".part", f".{file.name}.", file.absolute().parent)
    os.close(opened)
    temporary = Path(name)
    try:
        yield temporary
    finally:
        for each in (temporary, Path(f"{name}-journal")):  # SQLite's, which a full disk makes it leave
            with suppress(FileNotFoundError):
                each.unlink()


def put_in_place(temporary: Path, file: Path) -> None:
    """Make the bytes durable, then the name; FileExistsError when something bears the name already."""
    _sync(temporary)
    try:
        os.link(temporary, file)
    except OSError as error:
        if error.errno not in {*_NO_LINKS, errno.EEXIST}:
            raise
        if os.path.lexists(file):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(file)) from None
        temporary.rename(file)
    _sync_folder(file)


def put_over(temporary: Path, file: Path) -> None:
    """Make the bytes durable, then give them the name that another file has."""
    _sync(temporary)
    temporary.replace(file)
    _sync_folder(file)


def _sync(file: Path) -> None:
    with file.open("rb+") as written:
        os.fsync(written.fileno())


def _sync_folder(file: Path) -> None:
    """Make a name durable; Windows opens no folder, and keeps names in its own journal."""
    if os.name == "nt":
        return
    folder = os.open(file.absolute().parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
