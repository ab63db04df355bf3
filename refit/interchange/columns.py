"""The sheets and their columns: the one declaration that reading, writing, the templates and the
documentation go by.

A column stands for one property of a row of the refit document, or for a part of one: the pieces
of a package take three columns, the opening hours of a place seven, a booking three in the row
of its package. A row with these parts side by side is *flat*.
"""

from __future__ import annotations

from .columns_places import CREW, DISTANCES, PAPERS, PLACES, VENDORS, ZONES
from .columns_work import DEPENDENCIES, PACKAGES, PIECES

SHEETS = (PLACES, VENDORS, PAPERS, CREW, ZONES, PIECES, PACKAGES, DEPENDENCIES, DISTANCES)
BY_KIND = {sheet.kind: sheet for sheet in SHEETS}
