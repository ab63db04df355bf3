"""Scratch databases on a real PostgreSQL, made for one test and dropped after it."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit, urlunsplit

import psycopg
from psycopg import sql


@contextmanager
def scratch_database(server: str, *, like: str = "") -> Iterator[str]:
    """The address of a new database beside the one at ``server``, whose login may make databases.

    ``like``: address of a scratch database whose content is copied; nobody may be connected to it.
    """
    name = f"refit_scratch_{uuid.uuid4().hex[:12]}"
    make = sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name))
    if like:
        original = urlsplit(like).path.strip("/")
        make += sql.SQL(" TEMPLATE {}").format(sql.Identifier(original))
    _do(server, make)
    try:
        yield urlunsplit(urlsplit(server)._replace(path=f"/{name}"))
    finally:
        _do(server, sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


def _do(server: str, statement: sql.Composed) -> None:
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(statement)
