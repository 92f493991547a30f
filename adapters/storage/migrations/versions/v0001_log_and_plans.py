"""The event log, which is only ever added to, and the issued plans."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

SQLITE_GUARDS = (
    "CREATE TRIGGER IF NOT EXISTS events_stay BEFORE UPDATE ON events "
    "BEGIN SELECT RAISE(ABORT, 'events are never changed'); END",
    "CREATE TRIGGER IF NOT EXISTS events_remain BEFORE DELETE ON events "
    "BEGIN SELECT RAISE(ABORT, 'events are never removed'); END",
)
SERVER_GUARDS = (
    "CREATE OR REPLACE FUNCTION events_stay() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'events are never changed or removed'; END $$",
    "CREATE TRIGGER events_stay BEFORE UPDATE OR DELETE ON events FOR EACH ROW EXECUTE FUNCTION events_stay()",
    "CREATE TRIGGER events_remain BEFORE TRUNCATE ON events FOR EACH STATEMENT EXECUTE FUNCTION events_stay()",
)


def upgrade() -> None:
    """Make both tables and the guards."""
    op.create_table(
        "events",
        sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("id", sa.String(200), nullable=False, unique=True),
        sa.Column("kind", sa.String(60), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("happened_at", sa.String(40), nullable=False),
        sa.Column("recorded_at", sa.String(40), nullable=False),
        sa.Column("by_whom", sa.String(200), nullable=False),
        sa.Column("source", sa.String(200), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_table(
        "plans",
        sa.Column("place", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("id", sa.String(200), nullable=False, unique=True),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
    )
    server = op.get_bind().dialect.name == "postgresql"
    for guard in SERVER_GUARDS if server else SQLITE_GUARDS:
        op.execute(guard)
