"""Run command lines on a small disk of their own that is full, and tell what became of them.

Run as a program: `python small_disk.py FOLDER BYTES SPARE` in a mount namespace, so that the disk is gone when the
process ends. On standard input stands a JSON object: `files` (copied to the disk first, by their names on it) and
`acts` (command lines in which {disk} is the disk). Each act meets the same disk with `SPARE` bytes left; afterwards
room is made and it is tried again. Out goes a list with one object per act.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]


def may_mount() -> bool:
    """Tell whether this machine lets the tests have a disk of their own."""
    return subprocess.run([*_namespace(), "true"], check=False, capture_output=True).returncode == 0


def on_a_full_disk(files: dict[str, Path], acts: list[list[str]], *, size: int, spare: int) -> list[dict[str, Any]]:
    """Return code, err, changed (what differs on the disk) and again (the code when there is room) of each act."""
    request = json.dumps({"files": {name: str(path) for name, path in files.items()}, "acts": acts})
    words = [*_namespace(), sys.executable, __file__, str(size), str(spare)]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    ran = subprocess.run(words, check=True, input=request, stdout=subprocess.PIPE, text=True, env=env, timeout=120)
    answers: list[dict[str, Any]] = json.loads(ran.stdout)
    return answers


def _namespace() -> list[str]:
    return ["unshare", "-m"] if os.geteuid() == 0 else ["unshare", "-Urm"]


def _state(disk: Path) -> dict[str, str]:
    from collection.store.engine import open_engine
    from tests.support.books import digest

    return {path.name: digest(open_engine(str(path))) if path.name == "book" else "" for path in sorted(disk.iterdir())}


def _try(disk: Path, files: dict[str, str], act: list[str], spare: int) -> dict[str, Any]:
    from tests.support.cli import run_cli

    for path in disk.iterdir():
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    for name, path_text in files.items():
        shutil.copy(path_text, disk / name)
    words = [word.replace("{disk}", str(disk)) for word in act]
    before = _state(disk)
    free = shutil.disk_usage(disk).free
    (disk / "ballast").write_bytes(bytes(max(free - spare, 0)))
    ran = run_cli(words, mistake=True)
    (disk / "ballast").unlink()
    after = _state(disk)
    changed = [name for name in {*before, *after} if before.get(name) != after.get(name)]
    return {"code": ran.code, "err": ran.err, "changed": changed, "again": run_cli(words, mistake=True).code}


def main() -> None:
    """Mount the disk, try each act, print what became of it."""
    size, spare = map(int, sys.argv[1:3])
    request = json.load(sys.stdin)
    disk = Path(f"/tmp/spindlebook-disk-{os.getpid()}")  # noqa: S108  only this process sees what is mounted on it
    disk.mkdir()
    try:
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "none", disk], check=True)
        told = [_try(disk, request["files"], act, spare) for act in request["acts"]]
        subprocess.run(["umount", disk], check=True)
    finally:
        disk.rmdir()
    json.dump(told, sys.stdout)


if __name__ == "__main__":
    main()
