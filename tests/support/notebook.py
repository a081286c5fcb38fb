"""Pages that are run like a notebook: each piece of Python with what it shows below it, from top to bottom."""

from __future__ import annotations

import ast
import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pandas as pd

from tests.support.cli import run_cli
from tests.support.demo import DEMO_DAY

_CELL = re.compile(r"^```python\n(.*?)^```\n```text\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def with_outputs(page: str) -> str:
    """Return the page with what each piece of code shows now, run beside the demo's book, `demo.sqlite3`."""
    names: dict[str, Any] = {}

    def run(cell: re.Match[str]) -> str:
        shown = _shown(cell[1], names)
        return f"```python\n{cell[1]}```\n```text\n{shown}\n```"

    with _demo_here(), pd.option_context("display.width", 110, "display.max_columns", 12):
        return _CELL.sub(run, page)


def _shown(code: str, names: dict[str, Any]) -> str:
    """Run code and return what a notebook shows of it: its last line, where that has a value."""
    tree = ast.parse(code)
    last = tree.body.pop()
    assert isinstance(last, ast.Expr), f"nothing to show at the end of:\n{code}"
    exec(compile(tree, "docs/frames.md", "exec"), names)  # noqa: S102  the page is ours
    value = eval(compile(ast.Expression(last.value), "docs/frames.md", "eval"), names)  # noqa: S307  as above
    return "\n".join(line.rstrip() for line in str(value).splitlines())


@contextmanager
def _demo_here() -> Iterator[None]:
    """Let the present folder be one with the demo's book in it."""
    was = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        try:
            assert 0 == run_cli(["demo"], db="demo.sqlite3", today=DEMO_DAY).code
            yield
        finally:
            os.chdir(was)
