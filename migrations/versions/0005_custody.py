"""What a collection answers for: checks of condition and safety, sightings, damage and loss, exits, reservations.

The statements are frozen as SQL, one file per database, so that later changes of the program cannot alter them.

Revision ID: 0005
"""

from pathlib import Path

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add columns and tables; no row that stands is touched."""
    dialect = op.get_bind().dialect.name
    script = (Path(__file__).parent / "0005" / f"{dialect}.sql").read_text(encoding="utf-8")
    for statement in script.removesuffix(";\n").split(";\n\n"):
        op.get_bind().exec_driver_sql(statement)


def downgrade() -> None:
    """What stands in the new tables would be lost."""
    raise RuntimeError("a book is not taken back to an earlier schema; restore a backup instead")
