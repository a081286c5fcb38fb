"""The contract between the floors, read off the source: who may import whom, who reads the clock."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

PACKAGE = "collection"
# From the top down: a floor may import itself and what stands behind it in this line.
FLOORS = ("cli", "exchange", "acts", "views", "store", "schema", "analysis", "quantity", "errors")
# Libraries with one home each; "migrations" stands for the folder beside the package.
HOMES = {
    "pandas": {"exchange"},
    "openpyxl": {"exchange"},
    "matplotlib": {"exchange"},
    "alembic": {"store", "migrations"},
    "jinja2": {"exchange"},
    "markupsafe": {"exchange"},
    "PIL": {"exchange"},
    "segno": {"exchange"},
    "icalendar": {"exchange"},
    "click": {"cli"},
    "platformdirs": {"cli"},
}
# These meet no database, clock, file or print: what they are given is all they know.
NO_DATABASE = {"analysis", "quantity", "errors"}
DATABASE = {"sqlalchemy", "sqlite3", "psycopg"}
CLOCK = {
    ("date", "today"),
    ("datetime", "today"),
    ("datetime", "now"),
    ("datetime", "utcnow"),
    ("time", "time"),
    ("time", "time_ns"),
    ("time", "localtime"),
    ("time", "gmtime"),
    ("time", "ctime"),
    ("func", "now"),
    ("func", "current_date"),
    ("func", "current_timestamp"),
}
SQL_CLOCK = re.compile(
    r"\bcurrent_(date|time|timestamp)\b|\b(now|clock_timestamp)\(\)|\b(date|datetime)\('now'", re.IGNORECASE
)
TALKS = {"print", "input", "open"}
LOOKED_AT = (ast.Import, ast.ImportFrom, ast.Attribute, ast.Constant, ast.Call)


@dataclass(frozen=True)
class Source:
    """One module: the floor it stands on, its path for people, the nodes of its syntax tree that a rule looks at."""

    floor: str
    path: str
    nodes: Sequence[ast.AST]


def sources(root: Path) -> Iterator[Source]:
    """Yield every module of the package and of the migrations under a source tree."""
    package = [(path, _floor(path.relative_to(root / PACKAGE))) for path in (root / PACKAGE).rglob("*.py")]
    migrations = [(path, "migrations") for path in (root / "migrations").rglob("*.py")]
    for path, floor in sorted(package + migrations):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        nodes = [node for node in ast.walk(tree) if isinstance(node, LOOKED_AT)]
        yield Source(floor, str(path.relative_to(root)), nodes)


def _floor(path: Path) -> str:
    return path.parts[0] if len(path.parts) > 1 else path.stem


def violations(root: Path) -> list[str]:
    """Return each breach of the contract as "path:line what"; an empty tree is a breach itself."""
    missing, breaches = {*FLOORS, "migrations"}, []
    for source in sources(root):  # one at a time: many trees that are kept are searched for garbage over and over
        missing.discard(source.floor)
        for rule in (_imports, _libraries, _clock, _talk):
            breaches += [f"{source.path}:{line} {what}" for line, what in rule(source)]
    return [f"nothing to check in {floor}" for floor in sorted(missing)] + breaches


def _imported(source: Source) -> Iterator[tuple[int, str]]:
    """Yield line and full name of every import, those inside functions and behind TYPE_CHECKING too."""
    for node in source.nodes:
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                yield node.lineno, "." * node.level
            elif node.module == PACKAGE:
                yield from ((node.lineno, f"{PACKAGE}.{alias.name}") for alias in node.names)
            else:
                yield node.lineno, str(node.module)


def _allowed(floor: str) -> set[str]:
    if floor == "migrations":
        return {"schema", "store"}
    return set(FLOORS[FLOORS.index(floor) :]) if floor in FLOORS else set()


def _imports(source: Source) -> Iterator[tuple[int, str]]:
    for line, name in _imported(source):
        if name.startswith("."):
            yield line, "imports by a relative name"
            continue
        first, *rest = name.split(".")
        target = rest[0] if first == PACKAGE and rest else ""
        if target in FLOORS and target not in _allowed(source.floor):
            yield line, f"{source.floor} imports {name}"
        frozen = source.floor == "migrations" and "versions" in source.path
        if frozen and first == PACKAGE and name != f"{PACKAGE}.schema.columns":
            yield line, f"a revision imports {name}, which may change under it"


def _libraries(source: Source) -> Iterator[tuple[int, str]]:
    for line, name in _imported(source):
        library = name.split(".")[0]
        if source.floor not in HOMES.get(library, {source.floor}):
            yield line, f"{source.floor} imports {library}"
        if source.floor in NO_DATABASE and library in DATABASE:
            yield line, f"{source.floor} imports {library}"


def _clock(source: Source) -> Iterator[tuple[int, str]]:
    if source.floor == "cli":
        return
    for node in source.nodes:
        if isinstance(node, ast.Attribute) and (_last_name(node.value), node.attr) in CLOCK:
            yield node.lineno, f"reads the clock: {_last_name(node.value)}.{node.attr}"
        elif isinstance(node, ast.ImportFrom) and node.module == "time":
            names = [alias.name for alias in node.names if ("time", alias.name) in CLOCK]
            yield from ((node.lineno, f"reads the clock: {name}") for name in names)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and SQL_CLOCK.search(node.value):
            yield node.lineno, "reads the database's clock"


def _last_name(node: ast.expr) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def _talk(source: Source) -> Iterator[tuple[int, str]]:
    if source.floor not in NO_DATABASE:
        return
    for node in source.nodes:
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in TALKS:
            yield node.lineno, f"{source.floor} calls {node.func.id}"


def oversized(root: Path, *, lines: int, function_lines: int) -> list[str]:
    """Return the files over `lines` and the functions over `function_lines`, each with its size."""
    found = []
    for path in sorted((root / PACKAGE).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if text.count("\n") > lines:
            found.append(f"{path.relative_to(root)}: {text.count(chr(10))} lines")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                size = (node.end_lineno or node.lineno) - node.lineno + 1
                if size > function_lines:
                    found.append(f"{path.relative_to(root)}:{node.lineno} {node.name}: {size} lines")
    return found
