"""Writes of `refit.quality`: what was found, measured, inspected."""

from .findings import AlreadyDecided, decide_finding

__all__ = ["AlreadyDecided", "decide_finding"]
