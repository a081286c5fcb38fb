"""The manifest beside a backup: what the file holds, and digests by which a damaged or a wrong one is refused."""

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import MAXYEAR, MINYEAR, datetime
from pathlib import Path
from typing import Any

from collection.errors import Refused
from collection.store.place import beside, put_in_place

FORMAT = "spindlebook backup 2"
_FORMER = "spindlebook backup 1"  # had neither `book` nor `why`, and no digest of its own
_SUFFIX = ".manifest.json"
_LARGEST = 1_000_000  # bytes; a manifest has some three thousand


@dataclass(frozen=True)
class Manifest:
    """What a backup holds: enough to refuse a damaged or a wrong file.

    made_at: instant in UTC. schema: the revision of its tables. size: bytes. sha256: of the file. last_seal: of the
    last act in it. rows: how many each table has. book: the id of the book, empty where an older program did not tell
    it. why: what it was made for.
    """

    format: str
    made_at: str
    program: str
    schema: str
    size: int
    sha256: str
    last_seal: str
    rows: dict[str, int]
    book: str = ""
    why: str = ""


def manifest_path(file: Path) -> Path:
    """Where the manifest of a backup stands."""
    return file.with_name(file.name + _SUFFIX)


def backup_path(manifest: Path) -> Path | None:
    """The backup that a manifest stands beside; None for a file that is named otherwise."""
    name = manifest.name.removesuffix(_SUFFIX)
    return manifest.with_name(name) if name and name != manifest.name else None


def write_manifest(file: Path, manifest: Manifest) -> None:
    """Write the manifest of a backup beside it, with a digest of the manifest itself; FileExistsError where one is."""
    path = manifest_path(file)
    told = asdict(manifest)
    with beside(path) as temporary:
        temporary.write_text(json.dumps(told | {"digest": _digest(told)}, indent=1) + "\n", encoding="utf-8")
        put_in_place(temporary, path)


def read_manifest(file: Path) -> Manifest:
    """The manifest of a backup; refused where it is missing, is none, or is not as it was written."""
    path = manifest_path(file)
    if not path.is_file():
        raise Refused(f"{path} is missing; without its manifest a backup cannot be checked.", "Keep both together.")
    return manifest_in(path)


def manifest_in(path: Path) -> Manifest:
    """What a file tells as a manifest, whatever its name; refused where it is none, or is not as it was written."""
    try:
        told = json.loads(path.read_text(encoding="utf-8")) if path.stat().st_size <= _LARGEST else None
    except (ValueError, RecursionError):
        told = None
    if not isinstance(told, dict) or told.get("format") not in (FORMAT, _FORMER):
        raise Refused(f"{path} is not the manifest of a backup.", "Give a file that spindlebook backup wrote.")
    if told["format"] == FORMAT and told.pop("digest", None) != _digest(told):
        raise Refused(
            f"{path} is not as it was written: its digest differs.",
            "See which others there are: spindlebook backup list",
        )
    if not _is_whole(told):
        raise Refused(f"{path} does not tell all that a manifest tells.", "Give a file that spindlebook backup wrote.")
    return Manifest(**told)


def _digest(told: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(told, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def _is_whole(told: dict[str, Any]) -> bool:
    """Whether every value is there and of its kind; an older manifest lacks the last two."""
    kinds = {name: kind if isinstance(kind, type) else dict for name, kind in Manifest.__annotations__.items()}
    wanted = {name for name in kinds if told["format"] == FORMAT or name not in ("book", "why")}
    return (
        told.keys() == wanted
        and all(type(told[name]) is kinds[name] for name in wanted)
        and all(type(count) is int for count in told["rows"].values())
        and _is_instant(told["made_at"])
    )


def _is_instant(text: str) -> bool:
    """Whether a text is an instant with its zone, not so near an end of the calendar that another zone lies beyond."""
    try:
        made_at = datetime.fromisoformat(text)
    except ValueError:
        return False
    return made_at.tzinfo is not None and MINYEAR < made_at.year < MAXYEAR
