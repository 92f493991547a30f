"""What the service needs: who may issue, what was handed out, the forecasts that were used, and small marks."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the four tables."""
    op.create_table(
        "leases",
        sa.Column("name", sa.String(100), primary_key=True),
        sa.Column("holder", sa.String(200), nullable=False),
        sa.Column("until", sa.String(40), nullable=False),
    )
    op.create_table(
        "deliveries",
        sa.Column("outlet", sa.String(100), primary_key=True),
        sa.Column("parcel", sa.String(200), primary_key=True),
        sa.Column("sent_at", sa.String(40), nullable=False),
    )
    op.create_table(
        "forecasts",
        sa.Column("source", sa.String(200), primary_key=True),
        sa.Column("issued_at", sa.String(40), primary_key=True),
        sa.Column("fetched_at", sa.String(40), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
    )
    op.create_table(
        "marks",
        sa.Column("name", sa.String(100), primary_key=True),
        sa.Column("value", sa.Text, nullable=False),
    )
