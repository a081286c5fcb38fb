"""The first schema: every table, index and trigger of the book.

The statements are frozen as SQL, one file per database, so that later changes of the program cannot alter them.

Revision ID: 0001
"""

from pathlib import Path

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create everything."""
    dialect = op.get_bind().dialect.name
    script = (Path(__file__).with_suffix("").parent / "0001" / f"{dialect}.sql").read_text(encoding="utf-8")
    for statement in script.removesuffix(";\n").split(";\n\n"):
        op.get_bind().exec_driver_sql(statement)


def downgrade() -> None:
    """There is no book before the first schema."""
    raise RuntimeError("the first schema cannot be taken back; remove the book instead")
