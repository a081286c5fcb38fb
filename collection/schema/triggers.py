"""Triggers that keep append-only tables append-only, whoever writes."""

from collection.schema import APPEND_ONLY

_REFUSAL = "append-only: a row of {table} stays as it was written"

POSTGRES_FUNCTION = """CREATE OR REPLACE FUNCTION book_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION USING MESSAGE = 'append-only: a row of ' || TG_TABLE_NAME || ' stays as it was written';
END $$"""


def statements(dialect: str) -> list[str]:
    """The CREATE TRIGGER statements for every append-only table, in a fixed order."""
    made = [POSTGRES_FUNCTION] if dialect == "postgresql" else []
    for table in sorted(APPEND_ONLY):
        made += [_trigger(dialect, table, verb) for verb in ("UPDATE", "DELETE")]
    return made


def _trigger(dialect: str, table: str, verb: str) -> str:
    head = f"CREATE TRIGGER keep_{table}_{verb.lower()} BEFORE {verb} ON {table}"
    if dialect == "postgresql":
        return f"{head} FOR EACH ROW EXECUTE FUNCTION book_refuse()"
    return f"{head} BEGIN SELECT RAISE(ABORT, '{_REFUSAL.format(table=table)}'); END"
