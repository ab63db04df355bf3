"""``manage.py serve``: everything in one process, for one boat and a handful of people.

Migrates, loads the demo when asked, serves the pages, and runs the worker and its schedule in
threads unless a broker is configured. Larger installations start the parts one by one.
"""

from __future__ import annotations

import errno
import ipaddress
import os
import signal
import socket
from argparse import ArgumentTypeError
from pathlib import Path
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from waitress.server import create_server

from refit.background import Background

THREADS = 8
ANY_ADDRESS = ("0.0.0.0", "::")


def _port(text: str) -> int:
    try:
        port = int(text)
    except ValueError:
        port = 0
    if not 1 <= port <= 65535:
        raise ArgumentTypeError(f"a port is a whole number from 1 to 65535, not {text!r}")
    return port


class Command(BaseCommand):
    help = "Start refit: web pages, reminders and planning in one process. Ctrl-C ends it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--demo", action="store_true", help="load the demo refit first")
        parser.add_argument("--port", type=_port, default=8000, help="default 8000")
        parser.add_argument(
            "--host", default="127.0.0.1", help="address to listen on; default: this machine only"
        )
        # Read by manage.py, before the settings; declared here for --help.
        parser.add_argument("--data", help="folder for database, uploads and mail; default var/")

    def handle(self, *, demo: bool, port: int, host: str, **_options: Any) -> None:
        signal.signal(signal.SIGINT, _end)
        signal.signal(signal.SIGTERM, _end)
        try:
            with _listen(host, port) as listening:
                _answer_to(host, port)
                call_command("migrate", interactive=False, verbosity=0)
                said = [f"refit runs at {settings.SITE_ADDRESS}/", *self._demo(demo)]
                if host not in ("127.0.0.1", "localhost", "::1"):
                    said.append(f"Answers to: {', '.join(settings.ALLOWED_HOSTS)}")
                said += [f"Data: {settings.DATA_DIR}", "Ctrl-C ends it."]
                self._serve(listening, said)
        except KeyboardInterrupt:
            pass
        self._say(["Ended."])

    def _serve(self, listening: socket.socket, said: list[str]) -> None:
        # The static file server looks for this folder once, when the application is made.
        Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)
        from refit.wsgi import application

        server = create_server(application, sockets=[listening], threads=THREADS, ident=None)
        background = None if settings.REDIS_URL else Background(data_folder=Path(settings.DATA_DIR))
        try:
            if background:
                background.start()
            self._say(said)
            server.run()
        finally:
            # A second Ctrl-C must not cut the clean end short.
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            signal.signal(signal.SIGTERM, signal.SIG_IGN)
            if background and not background.stop():
                self._say(["Ended in the middle of a task; it is done again after the next start."])
                # The interpreter would wait for the lock that the running thread holds on stdout.
                os._exit(0)

    def _demo(self, wanted: bool) -> list[str]:
        if not wanted:
            return []
        from refit.demo.load import load_demo

        access = load_demo(now=timezone.now())
        site = settings.SITE_ADDRESS
        return [
            "",
            "Sign in as the refit manager",
            f"  e-mail    {access.manager_email}",
            f"  password  {access.manager_password or '(as shown at the first start)'}",
            "The owner's private page",
            f"  {site}{access.owner_link}",
            f"The private page of {access.vendor_name}",
            f"  {site}{access.vendor_link}",
            "These two links are new with every start; the ones before have ended.",
            "",
        ]

    def _say(self, lines: list[str]) -> None:
        for line in lines:
            self.stdout.write(line)
        self.stdout.flush()


def _end(_signal: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _listen(host: str, port: int) -> socket.socket:
    """A socket that listens. Raises `CommandError` with what to do about it."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family)
    except OSError as problem:
        if problem.errno == errno.EADDRINUSE:
            raise CommandError(
                f"Port {port} on {host} is in use by another program (or refit runs already). "
                f"End that one, or choose another port: --port {port % 65535 + 1}"
            ) from None
        if problem.errno == errno.EACCES:
            raise CommandError(
                f"This user may not listen on port {port}; choose one from 1024 up."
            ) from None
        raise CommandError(f"Cannot listen on {host} port {port}: {problem}") from None


def _answer_to(host: str, port: int) -> None:
    """Let the pages be reached under the address they are served at, and name it in mails."""
    names = _own_names() if host in ANY_ADDRESS else [host]
    for name in map(_in_address, names):
        if name not in settings.ALLOWED_HOSTS:
            settings.ALLOWED_HOSTS.append(name)
    if "REFIT_SITE_ADDRESS" not in os.environ:
        settings.SITE_ADDRESS = f"http://{_in_address(names[-1])}:{port}"


def _in_address(host: str) -> str:
    try:
        return f"[{host}]" if ipaddress.ip_address(host).version == 6 else host
    except ValueError:
        return host


def _own_names() -> list[str]:
    """This machine's name, and last the address under which its network reaches it."""
    names = [socket.gethostname().lower(), "127.0.0.1"]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Sends nothing; the kernel only chooses the address it would send from.
            probe.connect(("192.0.2.1", 9))
            names.append(probe.getsockname()[0])
        except OSError:
            pass
    return names
