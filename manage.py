#!/usr/bin/env python
"""The command line of refit."""

import os
import sys
from pathlib import Path


def _data_folder(arguments: list[str]) -> str | None:
    """The value of ``--data``, read before Django starts because the settings depend on it."""
    for position, word in enumerate(arguments):
        if word == "--data" and position + 1 < len(arguments):
            return arguments[position + 1]
        if word.startswith("--data="):
            return word.removeprefix("--data=")
    return None


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refit.settings")
    if folder := _data_folder(sys.argv[1:]):
        os.environ["REFIT_DATA"] = str(Path(folder).expanduser().resolve())

    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
