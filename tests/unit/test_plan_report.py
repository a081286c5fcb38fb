"""What an import would do, in a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from collection.errors import Refused
from collection.exchange.plan_report import save_report


def test_a_report_into_a_folder_that_is_not_there_is_refused_by_its_own_name(tmp_path: Path) -> None:
    """Not by the name of the file that would have been made beside it."""
    with pytest.raises(Refused, match=r"no/told\.json cannot be written: No such file or directory"):
        save_report(tmp_path / "no" / "told.json", {"new": 0}, [])
    assert [] == list(tmp_path.iterdir())
