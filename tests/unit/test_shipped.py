"""Where migrations, reference data and reports are found."""

from __future__ import annotations

from pathlib import Path

import pytest

from collection.errors import Expected
from collection.store import shipped as place
from collection.store.shipped import FOLDERS, shipped

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_source_tree_uses_the_folders_beside_the_package(folder: str) -> None:
    """A developer's change is in use at once, without an installation."""
    assert ROOT / folder == shipped(folder)


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the folder of an empty package that stands for ours."""
    folder = tmp_path / "site-packages" / "collection"
    folder.mkdir(parents=True)
    monkeypatch.setattr(place, "_PACKAGE", folder)
    return folder


def test_an_installed_program_uses_the_folders_inside_its_package(package: Path) -> None:
    """What travelled with the package counts, also when the same name stands beside it."""
    (package / "_shipped" / "reports" / "card").mkdir(parents=True)
    (package.parent / "reports" / "card").mkdir(parents=True)
    (package.parent / "pyproject.toml").touch()

    assert package / "_shipped" / "reports" / "card" == shipped("reports", "card")


def test_a_folder_beside_an_installed_package_belongs_to_somebody_else(package: Path) -> None:
    """Another package's `migrations` are never run on a book."""
    (package.parent / "migrations").mkdir()

    with pytest.raises(Expected) as refused:
        shipped("migrations")

    assert f"migrations is missing from this installation (looked at {package / '_shipped' / 'migrations'})." == (
        refused.value.what
    )
    assert "Install Spindlebook again." == refused.value.hint


def test_a_missing_file_is_named(package: Path) -> None:
    """An incomplete installation says what it lacks."""
    (package / "_shipped" / "seed_data").mkdir(parents=True)

    with pytest.raises(Expected, match=r"^seed_data/limits\.csv is missing from this installation"):
        shipped("seed_data", "limits.csv")


def test_the_wheel_carries_every_shipped_folder() -> None:
    """The build puts each folder where the program looks for it."""
    import tomllib

    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    included = settings["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]

    assert {folder: f"collection/_shipped/{folder}" for folder in FOLDERS} == included
