"""The manifest beside a backup vouches for its file and for itself, and one of an older program still does."""

import json
import random
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest

from collection.acts.restore import restore
from collection.errors import Refused
from collection.store.backup import back_up, check_backup
from collection.store.engine import open_engine
from collection.store.manifest import manifest_path, read_manifest, write_manifest
from tests.support.times import NOW, TODAY


def test_a_flipped_bit_of_a_manifest_never_changes_what_it_says(sqlite_book: Path, tmp_path: Path) -> None:
    """It is refused, or the bit was one of the blanks between its values."""
    file = tmp_path / "copy"
    made = back_up(open_engine(str(sqlite_book)), file, NOW)
    manifest, chance = manifest_path(file), random.Random(7)
    whole, refused = manifest.read_bytes(), 0
    for _ in range(300):
        spoilt = bytearray(whole)
        spoilt[chance.randrange(len(whole))] ^= 1 << chance.randrange(8)
        manifest.write_bytes(spoilt)
        try:
            assert read_manifest(file) == made
        except Refused:
            refused += 1

    assert refused > 250


def test_a_backup_without_or_with_a_wrong_manifest_is_refused(sqlite_book: Path, tmp_path: Path) -> None:
    """Missing, foreign, altered and newer ones are told apart, and the manifest itself is no backup."""
    file = tmp_path / "copy"
    made = back_up(open_engine(str(sqlite_book)), file, NOW)
    manifest = manifest_path(file)
    told = json.loads(manifest.read_text())

    for text in (json.dumps(told | {"format": "other"}), "[" * 100_000, "[]", "", json.dumps(told) + " " * 1_000_000):
        manifest.write_text(text)
        with pytest.raises(Refused, match="not the manifest"):
            check_backup(file)
    changes: list[dict[str, object]] = [
        {"made_at": "2026-02-01T12:00:00+00:00"},
        {"rows": {}},
        {"more": 1},
        {"digest": None},
    ]
    for change in changes:
        manifest.write_text(json.dumps(told | change))
        with pytest.raises(Refused, match="not as it was written: its digest differs"):
            check_backup(file)
    days = ("last week", "2026-03-01T12:00:00", "0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59+00:00")
    parts: list[dict[str, Any]] = [{"schema": 5}, {"rows": {"unit": "1"}}, *({"made_at": day} for day in days)]
    for part in parts:
        manifest.unlink()
        write_manifest(file, replace(made, **part))
        with pytest.raises(Refused, match="does not tell all"):
            check_backup(file)
    manifest.unlink()
    write_manifest(file, replace(made, schema="9999"))
    with pytest.raises(Refused, match="of a newer version"):
        check_backup(file)
    with pytest.raises(Refused, match="is the manifest of a backup, not the backup"):
        check_backup(manifest)
    manifest.unlink()
    with pytest.raises(Refused, match="is missing"):
        check_backup(file)
    with pytest.raises(Refused, match="There is no backup"):
        check_backup(tmp_path / "other")


def test_a_manifest_of_an_older_program_still_vouches_for_its_backup(sqlite_book: Path, tmp_path: Path) -> None:
    """It had no digest of its own and told neither the book nor the reason; the file's digest decides as ever."""
    file = tmp_path / "copy"
    made = asdict(back_up(open_engine(str(sqlite_book)), file, NOW)) | {"format": "spindlebook backup 1"}
    manifest_path(file).write_text(json.dumps({name: made[name] for name in made if name not in ("book", "why")}))

    assert check_backup(file).sha256 == made["sha256"]
    assert restore(open_engine(str(sqlite_book)), file, tmp_path / "kept", today=TODAY, now=NOW).brought_up is None
    file.write_bytes(file.read_bytes() + b"x")
    with pytest.raises(Refused, match="digest differs"):
        check_backup(file)
