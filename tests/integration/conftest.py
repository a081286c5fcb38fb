"""What several tests of acts and views begin with."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from tests.support.bench import set_up_bench
from tests.support.times import NOW, TODAY


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a book with a small shelf in it; a file of tests may have another of its own."""
    set_up_bench(engine, TODAY, NOW)
    return engine
