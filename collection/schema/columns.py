"""Column types and the column sets that every table starts from.

Only four kinds of value are stored (integer, real, text, bytes), so a raw row reads the same from SQLite and
PostgreSQL. Days and instants are ISO 8601 text, booleans 0 or 1, money integer minor units beside its ISO 4217 code.
Text has the "C" collation on PostgreSQL: it sorts by code point, as SQLite sorts it, and ISO days sort by time.
"""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql

METADATA = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

Whole = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
Real: sa.types.TypeEngine[float] = sa.REAL().with_variant(postgresql.DOUBLE_PRECISION(), "postgresql")
Text = sa.Text().with_variant(postgresql.TEXT(collation="C"), "postgresql")
Bytes = sa.LargeBinary()

SHORT = 200
LONG = 20_000


def whole(name: str, *args: Any, **kwargs: Any) -> sa.Column[int]:
    """A column of integers."""
    return sa.Column(name, Whole, *args, **kwargs)


def real(name: str, **kwargs: Any) -> sa.Column[float]:
    """A column of measured values."""
    return sa.Column(name, Real, **kwargs)


def text(name: str, *, required: bool = False) -> sa.Column[str]:
    """A column of text; how long it may be stands in the table's ``lengths``."""
    return sa.Column(name, Text, nullable=not required)


def reference(name: str, table: str, *, required: bool = False, circular: bool = False) -> sa.Column[int]:
    """A foreign key to ``table``; a ``circular`` one is made after both tables where the database needs that."""
    return sa.Column(name, Whole, sa.ForeignKey(f"{table}.id", use_alter=circular), nullable=not required)


def lengths(*, short: Sequence[str] = (), long: Sequence[str] = ()) -> list[sa.CheckConstraint]:
    """Named length limits: SQLite has no other way to refuse an overlong text."""
    limits = [(name, SHORT) for name in short] + [(name, LONG) for name in long]
    return [sa.CheckConstraint(f"length({name}) <= {most}", name=f"{name}_length") for name, most in limits]


def one_of(name: str, words: Sequence[str]) -> sa.CheckConstraint:
    """An enumeration kept as the trade's own words."""
    quoted = ", ".join("'" + word.replace("'", "''") + "'" for word in words)
    return sa.CheckConstraint(f"{name} IN ({quoted})", name=f"{name}_words")


def day_form(name: str, *, full: bool = False) -> sa.CheckConstraint:
    """ISO 8601 calendar day; reduced precision ("2022", "2022-03") unless ``full``."""
    whole_day = f"(length({name}) = 10 AND {name} LIKE '____-__-__')"
    partial = f" OR (length({name}) = 7 AND {name} LIKE '____-__') OR length({name}) = 4"
    return sa.CheckConstraint(whole_day if full else whole_day + partial, name=f"{name}_day")


def yes_no(name: str) -> sa.CheckConstraint:
    """A boolean kept as 0 or 1."""
    return sa.CheckConstraint(f"{name} IN (0, 1)", name=f"{name}_yes_no")


def at_least(name: str, least: float) -> sa.CheckConstraint:
    """A lower bound."""
    return sa.CheckConstraint(f"{name} >= {least}", name=f"{name}_range")


def _identity() -> list[Any]:
    return [
        sa.Column("id", Whole, primary_key=True, autoincrement=True),
        sa.Column("key", Text, nullable=False, unique=True),
    ]


def _table(name: str, columns: Sequence[Any], info: dict[str, Any]) -> sa.Table:
    return sa.Table(name, METADATA, *columns, sqlite_strict=True, sqlite_autoincrement=True, info=info)


def editable(name: str, *columns: Any) -> sa.Table:
    """A table whose rows may change: every change raises ``version`` and is kept in the journal."""
    standard = [
        reference("act_id", "act", required=True),
        whole("version", nullable=False, server_default="1"),
        whole("void", nullable=False, server_default="0"),
    ]
    return _table(name, [*_identity(), *standard, *columns, yes_no("void"), at_least("version", 1)], {})


def append_only(name: str, *columns: Any) -> sa.Table:
    """A table whose rows stay as written; the act tells who wrote them and when."""
    return _table(name, [*_identity(), reference("act_id", "act", required=True), *columns], {"append_only": True})


def kept_by_program(name: str, *columns: Any, append: bool = False) -> sa.Table:
    """A table of the journal itself, which no act describes."""
    return _table(name, [*_identity(), *columns], {"append_only": append})


def unique_name(table: sa.Table, *columns: str) -> sa.Index:
    """Names are given once among the rows that stand (``void`` = 0)."""
    return sa.Index(
        f"ux_{table.name}_{'_'.join(columns)}",
        *(table.c[name] for name in columns),
        unique=True,
        sqlite_where=sa.text("void = 0"),
        postgresql_where=sa.text("void = 0"),
    )
