"""Saltbush reads soil-test results and answers with cited, cautious advice.

Importing this package loads nothing else: the pure floor below must stay free of Flask and SQLAlchemy.
"""

__version__ = "0.1.0"
