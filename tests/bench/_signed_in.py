"""A manager's browser without a browser: signs in at a running ``serve --demo``, gets and posts."""

from __future__ import annotations

import re
from http.cookiejar import CookieJar
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, Request, build_opener


class SignedIn:
    """``address`` of the server, and what its start printed: the login of the demo's manager."""

    def __init__(self, address: str, email: str, password: str) -> None:
        self.address = address
        self._open = build_opener(HTTPCookieProcessor(CookieJar())).open
        self.post("/account/sign-in", {"username": email, "password": password})

    def get(self, path: str) -> str:
        with self._open(f"{self.address}{path}", timeout=60) as answer:
            return str(answer.read().decode())

    def post(self, path: str, data: dict[str, str], *, at: str = "") -> str:
        """Send a form; its token is read from the page ``at``, by default the same address."""
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.get(at or path))
        assert token, f"no form at {at or path}"
        body = urlencode(data | {"csrfmiddlewaretoken": token[1]}).encode()
        sent = Request(f"{self.address}{path}", body, {"Referer": f"{self.address}{at or path}"})
        with self._open(sent, timeout=60) as answer:
            return str(answer.read().decode())
