"""Every way a command can fail, turned into one or two lines on standard error and an exit code."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from pathlib import Path

import click

from collection.cli.show import note
from collection.errors import Expected

_OS_HINTS = {
    errno.ENOSPC: "Make room on the disk, then repeat the command.",
    errno.EDQUOT: "Make room on the disk, then repeat the command.",
    errno.EROFS: "Name a place that can be written.",
    errno.EACCES: "Name a place that you may read and write, or ask for the right to.",
    errno.EPERM: "Name a place that you may read and write, or ask for the right to.",
}
# A full disk without a file name may be that of the output, which comes after the act.
_PERHAPS_DONE = "Make room on the disk; before you repeat the command, see whether it was done: spindlebook history"
# What the message of a database driver holds -> what it means, what to do.
_DATABASE_WORDS = {
    "database is locked": ("Another program is writing to the book.", "Repeat the command when it is done."),
    "lock timeout": ("Another program is writing to the book.", "Repeat the command when it is done."),
    "disk is full": ("The disk is full; nothing was changed.", "Make room on it, then repeat the command."),
    "No space left": ("The disk is full; nothing was changed.", "Make room on it, then repeat the command."),
    "readonly database": ("The book cannot be written.", "Ask for the right to write its file and folder."),
    "permission denied for": (
        "This account has no right to do that in the book.",
        "Ask whoever runs the server for it.",
    ),
    "must be owner of": ("This account has no right to do that in the book.", "Ask whoever runs the server for it."),
    "read-only transaction": ("The server lets nobody write to the book now.", "Ask whoever runs it."),
    "unable to open": ("The book cannot be opened.", "See where it is with: spindlebook where"),
    "Could not decode to UTF-8": (
        "The file of the book is damaged: a text in it is none.",
        "Bring back a backup with: spindlebook restore FILE",
    ),
    "malformed": ("The file of the book is damaged.", "Bring back a backup with: spindlebook restore FILE"),
    "disk I/O error": (
        "The disk failed under the book, or its folder is gone.",
        "Check the disk and the folder, then type: spindlebook verify",
    ),
    "not a database": ("The file is not a book.", "See which is in use with: spindlebook where"),
}
# Kind of error -> what it means, what to do.
_PLAIN: tuple[tuple[type[Exception], str, str], ...] = (
    (UnicodeEncodeError, "A text holds a character that is none; nothing was changed.", "Type it again, in UTF-8."),
    (UnicodeDecodeError, "What was read is no text in UTF-8; nothing was changed.", "Write it in UTF-8, then repeat."),
    (EOFError, "The input ended before the question was answered; nothing was written.", ""),
    (MemoryError, "The memory of this computer ran out; nothing was changed.", "Close other programs first."),
)
# What a driver says of a connection that stood: nobody can tell whether the server had kept the act by then.
_BROKE_OFF = ("terminating connection", "server closed the connection", "connection is lost")
_WAS_IT_DONE = "If it was to write, see whether it was done before you repeat it: spindlebook history"
_OTHER_BOOK = "Check its address and that its server runs, or name another book with --db"
_LET_IN = "The password stands in the URL of --db or SPINDLEBOOK_DB, or in the file .pgpass in your home."
_NO_CONNECTION = (
    "connection", "could not translate host name", "failed to resolve host", "timeout expired", "server closed",
)  # fmt: skip


def report(error: BaseException, *, debug: bool) -> int:
    """Say what went wrong and return the exit code; a mistake of the program itself goes to a log file."""
    if isinstance(error, BrokenPipeError):
        _abandon_output()
        return 0  # the act is done; whoever read the output had enough of it
    if isinstance(error, KeyboardInterrupt | click.Abort):
        note("Interrupted.")
        return 130
    if isinstance(error, click.ClickException):
        return _usage(error)
    what, hint, code = words(error) or _own_mistake(error)
    if isinstance(error, OSError):
        _abandon_output()
    note(what, *([hint] if hint else []))
    if debug:
        note("".join(traceback.format_exception(error)))
    return code


def _usage(error: click.ClickException) -> int:
    note(error.format_message())
    context = getattr(error, "ctx", None)
    if context is not None and not isinstance(error, click.exceptions.NoArgsIsHelpError):
        note(f"Type: {context.command_path} --help")
    return error.exit_code


def words(error: BaseException) -> tuple[str, str, int] | None:
    """Return what went wrong, what to do and the exit code; None for a mistake of the program itself."""
    if isinstance(error, Expected):
        return error.what, error.hint, error.exit_code
    if _is_from_database(error):
        return _database(error)
    if isinstance(error, OSError):
        return _of_system(error)
    return next(((what, hint, 1) for kind, what, hint in _PLAIN if isinstance(error, kind)), None)


def _of_system(error: OSError) -> tuple[str, str, int]:
    number = error.errno or 0
    if error.filename:
        return f"{error.filename}: {error.strerror or error}.", _OS_HINTS.get(number, ""), 1
    is_full = number in (errno.ENOSPC, errno.EDQUOT)
    return f"{error.strerror or error}.", _PERHAPS_DONE if is_full else _OS_HINTS.get(number, ""), 1


def _is_from_database(error: BaseException) -> bool:
    """Tell a driver's error from others without importing a driver that was not in use."""
    bases = {(base.__module__, base.__name__) for base in type(error).__mro__}
    return bool(bases & {("sqlalchemy.exc", "DBAPIError"), ("sqlite3", "Error"), ("psycopg", "Error")})


def _database(error: BaseException) -> tuple[str, str, int] | None:
    message = str(getattr(error, "orig", error))
    for sign, (what, hint) in _DATABASE_WORDS.items():
        if sign in message:
            return what, hint, 1
    if "OperationalError" in type(error).__name__ and any(sign in message for sign in _NO_CONNECTION):
        first_line = message.strip().splitlines()[0]
        if any(sign in message for sign in _BROKE_OFF) and "connection failed" not in message:
            return f"The connection to the book broke off: {first_line}.", _WAS_IT_DONE, 5
        hint = _LET_IN if "authentication failed" in message or "no password" in message else _OTHER_BOOK
        return f"There is no connection to the book: {first_line}", hint, 5
    return None


def _own_mistake(error: BaseException) -> tuple[str, str, int]:
    name = f"{type(error).__name__}: {error}".splitlines()[0]
    return f"Spindlebook made a mistake of its own ({name}).", _log(error), 1


def _log(error: BaseException) -> str:
    from datetime import UTC, datetime

    from collection.cli.face import state_folder

    file = state_folder() / "mistakes.log"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("a", encoding="utf-8", errors="replace") as log:
            log.write(f"{datetime.now(UTC).isoformat()} {Path(sys.argv[0]).name}\n")
            log.writelines(traceback.format_exception(error))
    except OSError as trouble:
        return f"It could not be written to {file} ({trouble.strerror}); repeat with --debug to see it."
    return f"Please report it; what happened is in {file}"


def _abandon_output() -> None:
    """Send what is still buffered nowhere, so that Python's own last flush does not fail a second time."""
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is not None:
                stream.flush()
        except (OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
