"""The accepted risk: the chance of being outside limits by which rechecks are set, a setting of each book.

The statement is frozen as SQL, one file per database, so that later changes of the program cannot alter it.

Revision ID: 0003
"""

from pathlib import Path

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column, empty: the usual risk counts until another is set."""
    dialect = op.get_bind().dialect.name
    statement = (Path(__file__).parent / "0003" / f"{dialect}.sql").read_text(encoding="utf-8")
    op.get_bind().exec_driver_sql(statement.removesuffix(";\n"))


def downgrade() -> None:
    """The setting would be lost."""
    raise RuntimeError("a book is not taken back to an earlier schema; restore a backup instead")
