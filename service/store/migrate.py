"""Bringing a database to the shape this code expects, in a checkout or in an installed copy."""

from pathlib import Path

from alembic import command
from alembic.config import Config

from service.store.engine import make_engine


def migrate(url: str, migrations: Path) -> None:
    """Upgrade the database at ``url`` to the newest revision; a database already there is left alone."""
    engine = make_engine(url)
    config = configuration(migrations)
    try:
        with engine.connect().execution_options(saltbush_write=True) as connection, connection.begin():
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    finally:
        engine.dispose()


def configuration(migrations: Path) -> Config:
    """The configuration that ``[tool.alembic]`` states, for a copy without a pyproject.toml."""
    config = Config()
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    return config
