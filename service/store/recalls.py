"""Recalls: which reports are called back, and how far each has come."""

import sqlalchemy as sa


class Recalls:
    """Adds, lists and moves."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
