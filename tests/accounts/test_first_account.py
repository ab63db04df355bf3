"""The first account of an empty installation, and one's own password."""

from __future__ import annotations

import threading

import pytest
from django.db import connection
from django.test import Client

from refit.accounts.models import User
from refit.accounts.signing_in import NotTheFirst, make_first_account
from tests.builders import a_user

TYPED = {"name": "Runa Ostlund", "email": "runa@refit.example", "password": "tarred-marline-9"}


@pytest.mark.django_db
def test_an_empty_installation_leads_to_the_first_account() -> None:
    response = Client().get("/account/sign-in")
    assert response.headers["Location"] == "/account/first"
    assert "Nobody has an account here yet" in Client().get("/account/first").content.decode()


@pytest.mark.django_db
def test_it_is_made_and_signed_in() -> None:
    client = Client()
    response = client.post("/account/first", TYPED)
    assert response.status_code == 302
    user = User.objects.get()
    assert (user.name, user.email) == ("Runa Ostlund", "runa@refit.example")
    assert user.check_password("tarred-marline-9")
    assert client.session["_auth_user_id"] == str(user.pk)


@pytest.mark.django_db
def test_once_there_is_an_account_the_page_is_closed() -> None:
    a_user()
    for response in (Client().get("/account/first"), Client().post("/account/first", TYPED)):
        assert response.headers["Location"] == "/account/sign-in"
    assert User.objects.count() == 1
    with pytest.raises(NotTheFirst):
        make_first_account(email="b@refit.example", name="B", password="tarred-marline-9")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("password", "short", "too short"),
        ("password", "runa@refit.example", "too similar"),
        ("password", "1234567890123", "entirely numeric"),
        ("email", "runa", "valid email"),
        ("name", "", "required"),
    ],
)
def test_what_cannot_be_used_gets_a_sentence_at_its_field(
    field: str, value: str, sentence: str
) -> None:
    response = Client().post("/account/first", {**TYPED, field: value})
    assert response.status_code == 200
    assert sentence in response.content.decode()
    assert not User.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_two_at_the_same_moment_one_gets_it() -> None:
    outcomes: list[str] = []
    start = threading.Barrier(4)

    def try_it(number: int) -> None:
        start.wait()
        try:
            make_first_account(
                email=f"first{number}@refit.example", name="F", password="tarred-marline-9"
            )
            outcomes.append("made")
        except NotTheFirst:
            outcomes.append("late")
        finally:
            connection.close()

    threads = [threading.Thread(target=try_it, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["late", "late", "late", "made"]
    assert User.objects.count() == 1


@pytest.mark.django_db
def test_the_own_password_is_changed_and_other_browsers_are_signed_out() -> None:
    user = a_user()
    here, there = Client(), Client()
    here.force_login(user)
    there.force_login(user)
    response = here.post(
        "/account/password",
        {"current": "bilge-pump-7", "password": "tarred-marline-9", "again": "tarred-marline-9"},
        follow=True,
    )
    assert "Your password is changed" in response.content.decode()
    user.refresh_from_db()
    assert user.check_password("tarred-marline-9")
    assert there.get("/account/password").status_code == 302


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("current", "wrong", "That is not your password."),
        ("password", "short", "too short"),
        ("again", "other-words-3", "The two new passwords differ."),
    ],
)
def test_a_change_that_cannot_be_made_gets_a_sentence(
    field: str, value: str, sentence: str
) -> None:
    user = a_user()
    client = Client()
    client.force_login(user)
    typed = {"current": "bilge-pump-7", "password": "tarred-marline-9", "again": "tarred-marline-9"}
    response = client.post("/account/password", {**typed, field: value})
    assert response.status_code == 200
    assert sentence in response.content.decode()
    user.refresh_from_db()
    assert user.check_password("bilge-pump-7")


@pytest.mark.django_db
def test_a_stranger_is_sent_to_sign_in() -> None:
    a_user()
    response = Client().get("/account/password")
    assert response.headers["Location"] == "/account/sign-in?next=/account/password"
