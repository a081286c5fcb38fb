"""The stock plan: bench days, what use is guessed at, prices of orders, what suppliers promise, lots inspected.

The statements are frozen as SQL, one file per database, so that later changes of the program cannot alter them.

Revision ID: 0004
"""

from pathlib import Path

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add columns and tables; no row that stands is touched."""
    dialect = op.get_bind().dialect.name
    script = (Path(__file__).parent / "0004" / f"{dialect}.sql").read_text(encoding="utf-8")
    for statement in script.removesuffix(";\n").split(";\n\n"):
        op.get_bind().exec_driver_sql(statement)


def downgrade() -> None:
    """What stands in the new tables would be lost."""
    raise RuntimeError("a book is not taken back to an earlier schema; restore a backup instead")
