"""Choosing materials by a mixed-integer solver; the only package that knows it."""

from service.blending.solving import solve

__all__ = ["solve"]
