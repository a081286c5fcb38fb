"""The text that seals an act is that of each of its changes, however they were put into text."""

import hashlib

from hypothesis import given
from hypothesis import strategies as st

from collection.store.chain import START, act_hash, canonical

TRICKY = st.sampled_from(['],"|",[', "|", "],[", '"', "\\", "\n", '|",[', "é"])
VALUES = st.none() | st.integers() | st.floats(allow_nan=False) | TRICKY | st.text(alphabet='|,[]"\\a\n', max_size=8)
CHANGES = st.lists(st.lists(VALUES, max_size=4).map(tuple), max_size=5)


@given(CHANGES, st.none() | VALUES)
def test_a_seal_is_the_digest_of_a_line_for_each_change(changes: list[tuple[object, ...]], summary: object) -> None:
    """No value of a change, whatever stands in it, moves the boundary between two changes."""
    act = (1, "key", "2026-01-01T00:00:00.000000Z")
    lines = [canonical(list(act)), *(canonical(list(change)) for change in changes), canonical(summary)]
    wanted = hashlib.sha256((START + "\n".join(lines)).encode("ascii")).hexdigest()
    assert act_hash(START, act, changes, summary) == wanted  # type: ignore[arg-type]
