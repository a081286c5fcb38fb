"""What counts: rows of undone acts stay in the book and count for nothing."""


def counts(alias: str) -> str:
    """Return the SQL condition under which a row of an append-only table counts."""
    return f"{alias}.act_id NOT IN (SELECT act_id FROM undone)"
