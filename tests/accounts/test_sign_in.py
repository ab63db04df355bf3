"""Signing in and out, and the limit on wrong passwords."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from refit.accounts.models import LoginFailure, User
from refit.accounts.signing_in import (
    SPAN,
    TRIES_A_PERSON,
    TRIES_AN_ADDRESS,
    sign_in,
)
from tests.builders import NOW, a_user

pytestmark = pytest.mark.django_db

GOOD = "bilge-pump-7"


def attempt(email: str, password: str, address: str = "192.0.2.1", minutes: int = 0) -> str:
    """The refusal, empty if it went well."""
    return sign_in(
        request=None,
        email=email,
        password=password,
        address=address,
        now=NOW + timedelta(minutes=minutes),
    ).refusal


def page(client: Client, email: str, password: str, **more: str) -> object:
    return client.post("/account/sign-in", {"email": email, "password": password, **more})


def test_with_the_right_password_one_is_in() -> None:
    a_user("runa@refit.example")
    client = Client()
    response = client.post("/account/sign-in", {"email": "Runa@Refit.example ", "password": GOOD})
    assert (response.status_code, response.headers["Location"]) == (302, "/")
    assert "_auth_user_id" in client.session


def test_signed_in_one_arrives_where_one_wanted_to_go_but_on_no_other_site() -> None:
    a_user("runa@refit.example")
    for wanted, arrives in (
        ("/r/tern/packages", "/r/tern/packages"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
    ):
        response = Client().post(
            "/account/sign-in",
            {"email": "runa@refit.example", "password": GOOD, "next": wanted},
        )
        assert response.headers["Location"] == arrives


def test_a_wrong_password_and_an_unknown_person_look_the_same() -> None:
    a_user("runa@refit.example")
    said = []
    for email in ("runa@refit.example", "nobody@refit.example"):
        response = Client().post("/account/sign-in", {"email": email, "password": "wrong"})
        assert response.status_code == 200
        assert "do not go together" in response.content.decode()
        said.append(response.content.decode().count("errorlist"))
    assert said[0] == said[1]


def test_an_account_that_was_closed_does_not_open() -> None:
    a_user("runa@refit.example", is_active=False)
    assert attempt("runa@refit.example", GOOD)


def test_after_five_wrong_ones_even_the_right_one_waits() -> None:
    a_user("runa@refit.example")
    for _ in range(TRIES_A_PERSON):
        assert "do not go together" in attempt("runa@refit.example", "wrong")
    assert attempt("RUNA@refit.example", GOOD) == (
        "Too many wrong passwords. Try again in 15 minutes."
    )
    assert attempt("runa@refit.example", GOOD, minutes=14) == (
        "Too many wrong passwords. Try again in a minute."
    )
    assert attempt("runa@refit.example", GOOD, minutes=16) == ""


def test_a_guesser_elsewhere_does_not_lock_the_person_out() -> None:
    a_user("runa@refit.example")
    for _ in range(TRIES_A_PERSON + 1):
        attempt("runa@refit.example", "wrong", address="198.51.100.9")
    assert attempt("runa@refit.example", GOOD, address="192.0.2.1") == ""


def test_one_machine_that_tries_many_names_is_stopped() -> None:
    a_user("runa@refit.example")
    for number in range(TRIES_AN_ADDRESS):
        attempt(f"guess{number}@refit.example", "wrong")
    assert "Too many" in attempt("runa@refit.example", GOOD)
    assert attempt("runa@refit.example", GOOD, address="192.0.2.2") == ""


def test_the_right_password_clears_the_count() -> None:
    a_user("runa@refit.example")
    for _ in range(TRIES_A_PERSON - 1):
        attempt("runa@refit.example", "wrong")
    assert attempt("runa@refit.example", GOOD) == ""
    assert not LoginFailure.objects.exists()


def test_failures_are_forgotten_after_a_day() -> None:
    LoginFailure.objects.create(email="a@refit.example", address="x", at=NOW - timedelta(days=2))
    attempt("b@refit.example", "wrong")
    assert LoginFailure.objects.get().email == "b@refit.example"
    assert timedelta(days=1) > SPAN


def test_what_is_typed_without_sense_gets_a_sentence() -> None:
    a_user()
    response = Client().post("/account/sign-in", {"email": "", "password": ""})
    assert response.content.decode().count("This field is required") == 2
    response = Client().post("/account/sign-in", {"email": "x" * 300, "password": "y"})
    assert "at most 254" in response.content.decode()


def test_signing_out_needs_a_form_and_ends_the_session() -> None:
    user = a_user()
    client = Client()
    client.force_login(user)
    assert client.get("/account/sign-out").status_code == 405
    assert "_auth_user_id" in client.session
    response = client.post("/account/sign-out")
    # W3C Clear Site Data, section 3.1: quoted directives. Trip sheets kept on the phone go.
    assert response["Clear-Site-Data"] == '"cache", "storage"'
    response = client.get(response["Location"])
    assert "You are signed out." in response.content.decode()
    assert "_auth_user_id" not in client.session


def test_behind_our_proxy_the_proxys_word_counts_and_else_not(settings: object) -> None:
    a_user()
    header = {"X-Forwarded-For": "203.0.113.5, 198.51.100.7"}
    post = {"email": "a@refit.example", "password": "wrong"}
    Client().post("/account/sign-in", post, headers=header)
    assert LoginFailure.objects.latest("pk").address == "127.0.0.1"
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")  # type: ignore[attr-defined]
    Client().post("/account/sign-in", post, headers=header)
    assert LoginFailure.objects.latest("pk").address == "198.51.100.7"


def test_passwords_are_stored_hashed() -> None:
    a_user("runa@refit.example")
    assert GOOD not in User.objects.get().password
    assert timezone.now() > User.objects.get().created_at - timedelta(days=1)
