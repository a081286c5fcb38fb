"""A page as PDF, by a browser of the Chromium family that the person has: no printing library does what browsers do."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

from collection.errors import Refused

# The names under which browsers of the family are found, on Linux, macOS and Windows.
_NAMES = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge", "msedge",
)  # fmt: skip
_PLACES = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
)
# No windows, no first visit, no lines of the browser's own on the paper, and no host that a name could lead to.
_FLAGS = (
    "--headless", "--disable-gpu", "--no-first-run", "--no-default-browser-check", "--disable-extensions",
    "--disable-background-networking", "--no-pdf-header-footer", "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip
_SECONDS = 180


def find_browser(named: str = "") -> str:
    """Return the program that prints: the one that was named, or one that is found. Raises Refused without any."""
    if named:
        found = shutil.which(Path(named).expanduser())
        if found is None:
            raise Refused(f"There is no program {named}.", "Name the browser itself, like --browser /usr/bin/chromium.")
        return found
    found = next(filter(None, map(shutil.which, (*_NAMES, *_PLACES))), None)
    if found is None:
        raise Refused(
            "A PDF is made by a browser (Chromium or a relative), and none was found.",
            "Write a page (--to FILE.html) and print it from any browser, or name one: --browser PROGRAM.",
        )
    return found


def print_pdf(page: Path, file: Path, browser: str, profile: Path) -> None:
    """Let a browser print a page into a file. profile: a folder that it may fill. Raises Refused where it does not."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    sandbox = ["--no-sandbox"] if root else []  # the family refuses to sandbox the administrator's own runs
    command = [
        browser, *_FLAGS, *sandbox, f"--user-data-dir={profile}", f"--print-to-pdf={file}", page.absolute().as_uri(),
    ]  # fmt: skip
    try:
        done = subprocess.run(command, capture_output=True, timeout=_SECONDS, check=False)  # noqa: S603  their browser
        says = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:]
    except subprocess.TimeoutExpired:
        says = [f"it was still at it after {_SECONDS} seconds"]
    except OSError as error:
        says = [error.strerror or str(error)]
    if not file.is_file() or not file.stat().st_size:
        raise Refused(
            f"{browser} printed nothing{': ' if says else '.'}{' '.join(says)[:200]}",
            "Write a page (--to FILE.html) and print it by hand, or name another: --browser PROGRAM.",
        )
