"""Who may see a picture, and how it is handed out."""

from __future__ import annotations

import pytest
from django.test import Client
from django.utils import timezone

from refit.accounts.models import LinkKind, Role
from refit.accounts.services import revoke_link
from refit.custody.models import Picture
from refit.custody.pictures import add_picture
from tests.builders import A_MANAGER, a_member, a_place, a_refit, a_user, a_vendor
from tests.custody.scene import Scene, a_photo, a_scene
from tests.portal.stage import a_door

pytestmark = pytest.mark.django_db


def a_picture(scene: Scene) -> Picture:
    return add_picture(
        piece=scene.frame,
        upload=a_photo(),
        actor=A_MANAGER,
        now=timezone.now(),
        handoff=scene.handoff,
    )


def signed_in(user: object) -> Client:
    client = Client()
    client.force_login(user)  # type: ignore[arg-type]
    return client


def status(client: Client, picture: Picture) -> set[int]:
    return {
        client.get(f"/pictures/{picture.pk}").status_code,
        client.get(f"/pictures/{picture.pk}/small").status_code,
        client.head(f"/pictures/{picture.pk}").status_code,
    }


@pytest.mark.parametrize("role", list(Role))
def test_members_of_the_refit_see_it(role: Role) -> None:
    scene = a_scene()
    assert status(signed_in(a_member(scene.refit, role=role)), a_picture(scene)) == {200}


def test_the_owner_and_the_vendor_at_an_end_see_it() -> None:
    scene = a_scene()
    picture = a_picture(scene)
    assert status(a_door(scene.refit, LinkKind.OWNER).client, picture) == {200}
    assert status(a_door(scene.refit, vendor=scene.vendor).client, picture) == {200}
    receiver = a_vendor(scene.refit)
    scene.handoff.destination = a_place(scene.refit, vendor=receiver)
    scene.handoff.save()
    assert status(a_door(scene.refit, vendor=receiver).client, picture) == {200}


def test_to_everybody_else_it_does_not_exist() -> None:
    scene = a_scene()
    picture = a_picture(scene)
    other = a_refit()
    revoked = a_door(scene.refit, vendor=scene.vendor)
    revoke_link(link=revoked.link, now=timezone.now())
    for client in (
        Client(),
        signed_in(a_user()),
        signed_in(a_member(other)),
        a_door(other, LinkKind.OWNER).client,
        a_door(scene.refit, vendor=a_vendor(scene.refit)).client,
        revoked.client,
    ):
        assert status(client, picture) == {404}


def test_a_picture_outside_of_a_handoff_is_not_for_vendors() -> None:
    scene = a_scene()
    picture = add_picture(piece=scene.frame, upload=a_photo(), actor=A_MANAGER, now=timezone.now())
    assert status(a_door(scene.refit, vendor=scene.vendor).client, picture) == {404}
    assert status(a_door(scene.refit, LinkKind.OWNER).client, picture) == {200}


def test_it_is_handed_out_as_a_picture_and_nothing_else() -> None:
    scene = a_scene()
    picture = a_picture(scene)
    response = a_door(scene.refit, LinkKind.OWNER).client.get(f"/pictures/{picture.pk}")
    assert response.headers["Content-Type"] == "image/jpeg"
    assert response.headers["Content-Disposition"].startswith('inline; filename="ST-03-')
    assert "sandbox" in response.headers["Content-Security-Policy"]
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Cache-Control"] == "private, no-cache"
    assert b"".join(response.streaming_content)[:2] == b"\xff\xd8"  # type: ignore[attr-defined]


def test_a_browser_that_has_it_is_asked_again_but_not_sent_again() -> None:
    scene = a_scene()
    picture = a_picture(scene)
    door = a_door(scene.refit, LinkKind.OWNER)
    etag = door.client.get(f"/pictures/{picture.pk}").headers["ETag"]
    again = {"If-None-Match": etag}
    assert door.client.get(f"/pictures/{picture.pk}", headers=again).status_code == 304
    revoke_link(link=door.link, now=timezone.now())
    assert door.client.get(f"/pictures/{picture.pk}", headers=again).status_code == 404


def test_a_file_that_is_gone_is_404_and_other_methods_are_refused() -> None:
    scene = a_scene()
    picture = a_picture(scene)
    door = a_door(scene.refit, LinkKind.OWNER)
    assert door.client.post(f"/pictures/{picture.pk}").status_code == 405
    picture.file.storage.delete(str(picture.file.name))
    assert door.client.get(f"/pictures/{picture.pk}").status_code == 404


def test_the_upload_folder_itself_is_not_served() -> None:
    scene = a_scene()
    picture = a_picture(scene)
    for path in (
        f"/{picture.file.name}",
        f"/uploads/{picture.file.name}",
        f"/media/{picture.file}",
    ):
        assert Client().get(path).status_code == 404
