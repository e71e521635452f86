"""Alembic's entry: runs on the connection it is handed, else on the database of the settings."""

import sqlalchemy as sa
from alembic import context

from service.settings import Settings
from service.store.engine import make_engine
from service.store.tables import metadata


def run(connection: sa.Connection) -> None:
    context.configure(connection=connection, target_metadata=metadata, render_as_batch=True, compare_type=True)
    with context.begin_transaction():
        context.run_migrations()


def main() -> None:
    handed = context.config.attributes.get("connection")
    if handed is not None:
        run(handed)
        return
    engine = make_engine(Settings.from_environment().database_url)
    with engine.connect().execution_options(saltbush_write=True) as connection, connection.begin():
        run(connection)
    engine.dispose()


main()
