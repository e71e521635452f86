"""Choosing materials by a mixed-integer solver; the only package that knows it."""
