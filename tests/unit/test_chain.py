"""The text that seals an act is that of each of its rows, however they were put into text."""

import hashlib
import json

from hypothesis import given
from hypothesis import strategies as st

from collection.store.chain import START, act_hash, canonical, row_texts, rows_digest, texts_digest

TRICKY = st.sampled_from(['],"|",[', "|", "],[", '"', "\\", "\n", '|",[', '[["', "é"])
VALUES = st.none() | st.integers() | st.floats(allow_nan=False) | TRICKY | st.text(alphabet='|,[]"\\a\n', max_size=8)
ROWS = st.lists(st.lists(VALUES, max_size=4).map(tuple), max_size=5)


@given(ROWS, st.none() | TRICKY)
def test_a_seal_is_the_digest_of_a_line_for_each_change(changes: list[tuple[object, ...]], summary: str | None) -> None:
    """No value of a change, whatever stands in it, moves the boundary between two changes."""
    act = (1, "key", "2026-01-01T00:00:00.000000Z")
    lines = [canonical(list(act)), *(canonical(list(change)) for change in changes), canonical(summary)]
    wanted = hashlib.sha256((START + "\n".join(lines)).encode("ascii")).hexdigest()
    assert act_hash(START, act, changes, summary) == wanted


@given(ROWS, st.integers(0, 5))
def test_rows_have_one_digest_by_their_values_or_by_their_texts(rows: list[tuple[object, ...]], cut: int) -> None:
    """How rows are cut into batches, and who put them into text, does not matter."""
    texts = row_texts(rows)
    assert [json.loads(f"[{text}]") for text in texts] == [list(row) for row in rows]
    wanted = rows_digest([rows])
    assert texts_digest([texts[:cut], texts[cut:]]) == wanted == rows_digest([rows[:cut], rows[cut:]])
