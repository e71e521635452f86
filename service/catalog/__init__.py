"""Finds, reads and checks the table and crop files, and hands the core a `Library`."""
