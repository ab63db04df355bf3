"""Printed sheets (PDF) in one look. Filled by the rooms that know what to say; see `Sheet`."""

from .sheet import Column, Sheet, Size

__all__ = ["Column", "Sheet", "Size"]
