"""``manage.py search``: carries out one search for an earlier launch; started by the server."""

from __future__ import annotations

import os
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from refit.planning.search_child import NICE
from refit.planning.searching import carry_out


class Command(BaseCommand):
    help = "Carry out a search that somebody asked for on a page. The server starts this itself."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("search", type=int, help="number of the search")

    def handle(self, *, search: int, **_options: Any) -> None:
        if hasattr(os, "nice"):
            os.nice(NICE)
        carry_out(search)
