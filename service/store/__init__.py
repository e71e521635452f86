"""The database: what is kept, written once, read again. The only package that knows SQLAlchemy."""
