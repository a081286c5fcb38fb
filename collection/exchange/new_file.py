"""A file that people asked for: made aside, named when it is whole, and never over another unasked."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from collection.errors import Refused
from collection.store.place import beside, put_in_place, put_over


def refuse_place(file: Path, *, replace: bool, another: str = "another file") -> None:
    """Refuse beforehand what `new_file` would refuse: no folder, a folder of the name, a file that is there.

    another: what to name instead of one that is there.
    """
    if not file.absolute().parent.is_dir():
        raise Refused(f"There is no folder {file.parent}.", "Name a file in a folder that is there.")
    if file.is_dir():
        raise Refused(f"{file} is a folder.", "Name a file.")
    if file.exists() and not replace:
        raise _there(file, another)


@contextmanager
def new_file(file: Path, *, replace: bool) -> Iterator[Path]:
    """Yield where to write; what stands there at the end gets the name of the file, else nothing does.

    replace: whether a file of the name is written over. Raises Refused where one has come meanwhile, and for a place
    that cannot be written.
    """
    try:
        with beside(file) as aside:
            yield aside
            (put_over if replace else put_in_place)(aside, file)
    except FileExistsError:
        raise _there(file) from None
    except OSError as error:
        raise cannot_write(file, error) from None


def cannot_write(place: Path, error: OSError) -> Refused:
    """Return what is said of a file or folder that the system did not let be written, with what helps against it."""
    is_full = error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
    hint = "Make room there, or name a place that has more." if is_full else "Name a place where you may write."
    return Refused(f"{place} cannot be written: {error.strerror}.", hint)


def _there(file: Path, another: str = "another file") -> Refused:
    return Refused(f"{file} is there already.", f"Name {another}, or add --replace to write over it.")
