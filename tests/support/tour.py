"""The tour in README.md: its files come from docs/shelf, its screens from the program at a terminal of 80 columns.

A block is written anew where it is of one of two kinds: "csv" below a line that names a file of docs/shelf, and
"console", whose lines that begin with "$ " are typed into a shell one after the other. Every question on the way is
answered by Enter.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pexpect

from tests.support.cli import ROOT
from tests.support.warm import warm_program

WIDTH = 80
SHELF = "docs/shelf"
_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_FILE = re.compile(rf"^(`({SHELF}/\w+\.csv)`\n\n```csv\n).*?^```$", re.MULTILINE | re.DOTALL)
_COMMAND = re.compile(r"^\$ (?:.*\\\n)*.*$", re.MULTILINE)
_EXPORT = re.compile(r"export [A-Z_]+=\S+")
_DIGEST = re.compile(r"\b[0-9a-f]{64}\b")
_NO_DIGEST = "(64 hexadecimal digits)"


def with_tour(text: str) -> str:
    """Return the text with every file and every screen of the tour as it is now."""
    text = _FILE.sub(lambda block: f"{block[1]}{(ROOT / block[2]).read_text(encoding='utf-8')}```", text)
    with tempfile.TemporaryDirectory() as folder:
        shell = _Shell(Path(folder))
        return _BLOCK.sub(lambda block: f"```console\n{''.join(shell.screens(block[1]))}```", text)


def commands_of(text: str) -> list[str]:
    """Return the commands that the tour types."""
    return [command for block in _BLOCK.findall(text) for command in _typed(block)]


def _typed(block: str) -> Iterator[str]:
    return (command.removeprefix("$ ") for command in _COMMAND.findall(block))


class _Shell:
    """A shell in a folder of its own, with an empty home, the files of docs/shelf and nothing of the person's own."""

    def __init__(self, folder: Path) -> None:
        shutil.copytree(ROOT / SHELF, folder / SHELF)
        (folder / "bin").mkdir()
        starter = folder / "bin" / "spindlebook"
        starter.write_text(f'#!/bin/sh\nexec {shlex.join(warm_program())} "$@"\n')
        starter.chmod(0o755)
        (folder / "home").mkdir()
        self._folder = folder
        self._exports: list[str] = []
        self._environment = {
            "HOME": str(folder / "home"),
            "PATH": f"{folder / 'bin'}:{os.defpath}",
            "PYTHONPATH": str(ROOT),
            "LANG": "C.UTF-8",
            "TZ": "UTC",
            "TERM": "xterm",
            "NO_COLOR": "1",
            "OPENBLAS_NUM_THREADS": "1",  # the other cores have tests of their own
        }

    def screens(self, block: str) -> Iterator[str]:
        """Type the commands of a block; yield each with what it leaves on the screen."""
        for command in _typed(block):
            yield f"$ {command}\n"
            if _EXPORT.fullmatch(command):
                self._exports.append(command)
            else:
                yield self._screen(command)

    def _screen(self, command: str) -> str:
        child = pexpect.spawn(
            "/bin/sh",
            ["-c", "\n".join([*self._exports, command])],
            cwd=str(self._folder),
            env=self._environment,
            dimensions=(50, WIDTH),
            encoding="utf-8",
            timeout=60,
        )
        shown = ""
        while child.expect([r"\]: $", pexpect.EOF]) == 0:
            shown += f"{child.before}{child.after}"
            child.sendline("")
        shown += str(child.before)
        child.close()
        code = f"(exit code {child.exitstatus})\n" if child.exitstatus else ""
        return _DIGEST.sub(_NO_DIGEST, "".join(f"{line}\n" for line in _lines(shown)) + code)


def _lines(shown: str) -> list[str]:
    """Return what stays on the screen: a carriage return lets a line begin again, as progress does."""
    lines = shown.removesuffix("\n").split("\n") if shown else []
    return [line.rstrip().rpartition("\r")[2].rstrip() for line in lines]
