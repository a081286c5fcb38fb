"""Where the folders stand that travel with the program: migrations, reference data, printed reports."""

from __future__ import annotations

from pathlib import Path

from collection.errors import Expected

FOLDERS = ("migrations", "seed_data", "reports")
_PACKAGE = Path(__file__).resolve().parent.parent


def shipped(*parts: str) -> Path:
    """Return the path of a shipped folder, or of something inside it.

    An installed program carries the folders in its package; a source tree has them beside the package.
    A folder of the same name beside an installed package belongs to somebody else and is never taken.
    Raises Expected when the thing is in neither place.
    """
    path = _root(_PACKAGE).joinpath(*parts)
    if not path.exists():
        raise Expected(
            f"{'/'.join(parts)} is missing from this installation (looked at {path}).",
            "Install Spindlebook again.",
        )
    return path


def _root(package: Path) -> Path:
    inside, beside = package / "_shipped", package.parent
    return beside if not inside.is_dir() and (beside / "pyproject.toml").is_file() else inside
