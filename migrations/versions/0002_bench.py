"""The bench: arrivals, wanted parts, turned screws, lubricants on their points, media, and checks of instruments.

The statements are frozen as SQL, one file per database, so that later changes of the program cannot alter them.

Revision ID: 0002
"""

from pathlib import Path

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add columns and tables; no row that stands is touched."""
    dialect = op.get_bind().dialect.name
    script = (Path(__file__).parent / "0002" / f"{dialect}.sql").read_text(encoding="utf-8")
    for statement in script.removesuffix(";\n").split(";\n\n"):
        op.get_bind().exec_driver_sql(statement)


def downgrade() -> None:
    """What stands in the new tables would be lost."""
    raise RuntimeError("a book is not taken back to an earlier schema; restore a backup instead")
