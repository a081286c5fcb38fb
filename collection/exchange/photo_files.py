"""Pictures and papers as files: read whole for the book, and written back as they came."""

from __future__ import annotations

from pathlib import Path

from collection.analysis.file_kinds import refuse_size
from collection.errors import Refused
from collection.exchange.new_file import cannot_write
from collection.store.place import beside, put_in_place


def read_photo(file: Path) -> bytes:
    """Return the bytes of a file. Raises Refused where it cannot be read, is no file, or is above 20 MB."""
    try:
        if not file.is_file():
            says = "is a folder" if file.is_dir() else "is not there" if not file.exists() else "is no file"
            raise Refused(f"{file} {says}.", "Name one picture or PDF.")
        refuse_size(file.stat().st_size, file.name)
        return file.read_bytes()
    except OSError as error:
        raise Refused(f"{file} cannot be read: {error.strerror}.", "Name one picture or PDF.") from None


def write_photo(file: Path, content: bytes) -> None:
    """Write the bytes of an attachment into a new file. Raises Refused where there is one of the name."""
    try:
        with beside(file) as temporary:
            temporary.write_bytes(content)
            put_in_place(temporary, file)
    except FileExistsError:
        raise Refused(f"{file} is there already.", "Name a file that is not there yet.") from None
    except OSError as error:
        raise cannot_write(file, error) from None
