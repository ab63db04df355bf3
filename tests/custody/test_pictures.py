"""What is taken in as a picture, and what becomes of it."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from refit.custody.models import Picture
from refit.custody.pictures import (
    LONGEST_EDGE,
    MAX_BYTES,
    READABLE,
    SMALL_EDGE,
    NotAPicture,
    add_picture,
    clean_picture,
)
from tests.builders import A_MANAGER, NOW, a_piece, a_refit
from tests.custody.scene import a_photo


def opened(content: bytes) -> Image.Image:
    return Image.open(BytesIO(content))


@pytest.mark.parametrize("format_", ["JPEG", "PNG", "WEBP"])
def test_photos_of_three_formats_become_jpegs(format_: str) -> None:
    clean = clean_picture(a_photo(format=format_))
    assert opened(clean.large).format == "JPEG"
    assert (clean.width, clean.height) == (640, 480)


def test_a_photo_as_telephones_take_it_is_read_and_loses_its_position() -> None:
    """HEIC with a maker and a position, both written by the encoder of the library."""
    pytest.importorskip("pillow_heif")
    exif = Image.Exif()
    exif[0x010F] = "Plainly Fictional Cameras"
    exif.get_ifd(0x8825)[1] = "N"
    photo = a_photo(name="IMG_0001.HEIC", format="HEIF", exif=exif)
    assert b"Fictional" in photo.read()
    clean = clean_picture(photo)
    assert (clean.width, clean.height) == (640, 480)
    for content in (clean.large, clean.small):
        assert opened(content).format == "JPEG"
        assert not opened(content).getexif()
        assert b"Fictional" not in content


def test_a_telephone_photo_cut_short_is_refused_with_a_sentence() -> None:
    pytest.importorskip("pillow_heif")
    whole = a_photo(name="half.heic", format="HEIF").read()
    for length in (12, 40, len(whole) // 2, len(whole) - 20):
        with pytest.raises(NotAPicture, match="is not a picture we can read"):
            clean_picture(SimpleUploadedFile("half.heic", whole[:length]))


def test_a_telephone_photo_with_too_many_pixels_is_refused_before_it_is_unpacked() -> None:
    pytest.importorskip("pillow_heif")
    whole = a_photo(format="HEIF").read()
    # The size of the image as the file's head claims it: box "ispe" of ISO/IEC 23008-12.
    at = whole.index(b"ispe") + 8
    claimed = whole[:at] + struct.pack(">II", 12_000, 12_000) + whole[at + 8 :]
    with pytest.raises(NotAPicture, match="more than 40 megapixels"):
        clean_picture(SimpleUploadedFile("bomb.heic", claimed))


def test_a_photo_under_the_wrong_name_is_judged_by_what_is_in_it() -> None:
    assert clean_picture(a_photo(name="photo.pdf", format="PNG")).width == 640


def test_a_large_photo_is_scaled_down_and_has_a_small_one() -> None:
    clean = clean_picture(a_photo(size=(4000, 3000)))
    assert opened(clean.large).size == (LONGEST_EDGE, LONGEST_EDGE * 3 // 4)
    assert opened(clean.small).size == (SMALL_EDGE, SMALL_EDGE * 3 // 4)


def test_position_names_and_comments_are_gone() -> None:
    exif = Image.Exif()
    exif[0x010F] = "Plainly Fictional Cameras"
    exif.get_ifd(0x8825)[1] = "N"
    photo = a_photo(exif=exif, comment=b"taken at the owner's house")
    assert b"owner's house" in photo.read()
    clean = clean_picture(photo)
    for content in (clean.large, clean.small):
        picture = opened(content)
        assert not picture.getexif()
        assert "comment" not in picture.info
        assert b"Fictional" not in content
        assert b"owner's house" not in content


def test_a_photo_taken_sideways_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera was turned by a quarter
    clean = clean_picture(a_photo(size=(640, 480), exif=exif))
    assert (clean.width, clean.height) == (480, 640)


def test_what_is_transparent_becomes_white() -> None:
    out = BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(out, "PNG")
    clean = clean_picture(SimpleUploadedFile("see-through.png", out.getvalue()))
    assert opened(clean.large).getpixel((5, 5)) == (255, 255, 255)


def a_png_that_claims(width: int, height: int) -> bytes:
    """A PNG whose head gives these sizes; its pixels would have to be unpacked to know better."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(12_000, 12_000), (40_001, 1_000), (60_000, 60_000)])
def test_a_small_file_with_too_many_pixels_is_refused_unopened(size: tuple[int, int]) -> None:
    with pytest.raises(NotAPicture, match="more than 40 megapixels"):
        clean_picture(SimpleUploadedFile("bomb.png", a_png_that_claims(*size)))


def test_a_file_of_more_than_12_megabytes_is_refused() -> None:
    with pytest.raises(NotAPicture, match="larger than 12 MB"):
        clean_picture(SimpleUploadedFile("film.jpg", b"\xff" * (MAX_BYTES + 1)))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("notes.jpg", b"only words"),
        ("drawing.svg", b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>"),
        ("page.jpg", b"<html><script>alert(1)</script></html>"),
        ("clip.gif", b"GIF89a\x01\x00\x01\x00\x80\x00\x00\x00\x00\x00\xff\xff\xff;"),
        ("half.png", a_png_that_claims(64, 64)),
    ],
)
def test_what_is_no_photo_gets_a_sentence_with_its_name(name: str, content: bytes) -> None:
    with pytest.raises(NotAPicture) as why:
        clean_picture(SimpleUploadedFile(name, content))
    assert str(why.value).startswith(f"“{name}”")
    assert f"Send a photo as {READABLE}." in str(why.value)


def test_an_empty_file_is_said_to_be_empty() -> None:
    with pytest.raises(NotAPicture, match="is empty"):
        clean_picture(BytesIO(b""), name="nothing.jpg")


@settings(max_examples=150, deadline=None)
@given(cut=st.integers(0, 4000), at=st.integers(0, 4000), by=st.binary(max_size=6))
def test_a_damaged_photo_is_read_or_refused_never_an_error(cut: int, at: int, by: bytes) -> None:
    good = a_photo(size=(60, 40)).read()
    damaged = bytearray(good[: max(1, len(good) - cut % len(good))])
    damaged[at % len(damaged) : at % len(damaged) + len(by)] = by
    try:
        clean = clean_picture(BytesIO(bytes(damaged)), name="damaged.jpg")
    except NotAPicture:
        return
    assert opened(clean.large).format == "JPEG"


@pytest.mark.django_db
def test_a_stored_picture_has_a_random_name_and_its_files() -> None:
    piece = a_piece(a_refit())
    first = add_picture(piece=piece, upload=a_photo("me.jpg"), actor=A_MANAGER, now=NOW)
    second = add_picture(piece=piece, upload=a_photo("me.jpg"), actor=A_MANAGER, now=NOW)
    assert "me" not in str(first.file.name)
    assert first.file.name != second.file.name
    assert opened(first.small.read()).size == (480, 360)
    assert first.taken_by == "Runa Ostlund"


@pytest.mark.django_db
def test_what_is_no_picture_leaves_no_row() -> None:
    piece = a_piece(a_refit())
    with pytest.raises(NotAPicture):
        add_picture(
            piece=piece,
            upload=SimpleUploadedFile("notes.jpg", b"words"),
            actor=A_MANAGER,
            now=NOW,
        )
    assert not Picture.objects.exists()
