"""Photos of pieces: taken in, cleaned, stored under random names. Who may see one: ``views.py``.

An upload is never stored as it came. It is opened with a short list of formats, measured before
its pixels are unpacked, turned upright, scaled down and written anew without anything that the
camera noted (position, names, comments).
"""

from __future__ import annotations

import secrets
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import IO, Any

from django.core.files.base import ContentFile, File
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from refit.work.models import Actor, Piece, record

from .models import End, Handoff, Picture

FORMATS: tuple[str, ...] = ("JPEG", "PNG", "WEBP")
READABLE = "JPEG, PNG or WebP"
ACCEPTED = "image/jpeg,image/png,image/webp"
try:
    from pillow_heif import register_heif_opener
except ImportError:  # Not on every machine: phones can send JPEG too.
    pass
else:
    register_heif_opener(thumbnails=False)
    FORMATS = (*FORMATS, "HEIF")
    READABLE = "JPEG, PNG, WebP or HEIC"
    ACCEPTED += ",image/heic,image/heif"
MAX_BYTES = 12 * 1024 * 1024
MAX_PIXELS = 40_000_000
"""A small file can unpack to gigabytes; the size in its head is looked at first."""
LONGEST_EDGE = 2400
SMALL_EDGE = 480


class NotAPicture(Exception):
    """The upload cannot be used; the text says why, for the person who sent it."""


@dataclass(frozen=True)
class CleanPicture:
    """JPEG bytes, large and small, without metadata. Sizes in pixels are those of the large."""

    large: bytes
    small: bytes
    width: int
    height: int


def clean_picture(upload: File[Any] | IO[bytes], *, name: str = "") -> CleanPicture:
    """Re-encode an uploaded photo. `NotAPicture` with a sentence if it is none or too large."""
    called = f"“{name or getattr(upload, 'name', None) or 'This file'}”"
    upload.seek(0)
    raw = upload.read(MAX_BYTES + 1)
    if not raw:
        raise NotAPicture(f"{called} is empty.")
    if len(raw) > MAX_BYTES:
        raise NotAPicture(f"{called} is larger than 12 MB. Send a smaller photo.")
    not_one = f"{called} is not a picture we can read. Send a photo as {READABLE}."
    try:
        with warnings.catch_warnings():
            # Pillow's own warning about large pictures is ours to judge, two lines down.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(BytesIO(raw), formats=FORMATS)
            if picture.width * picture.height > MAX_PIXELS:
                raise NotAPicture(f"{called} has more than 40 megapixels. Send a smaller photo.")
            picture.draft("RGB", (LONGEST_EDGE, LONGEST_EDGE))
            upright = _on_white(ImageOps.exif_transpose(picture))
    except NotAPicture:
        raise
    except Image.DecompressionBombError:
        raise NotAPicture(f"{called} has more than 40 megapixels. Send a smaller photo.") from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, MemoryError):
        raise NotAPicture(not_one) from None
    large, width, height = _written(upright, LONGEST_EDGE)
    small, _, _ = _written(upright, SMALL_EDGE)
    return CleanPicture(large=large, small=small, width=width, height=height)


def _on_white(picture: Image.Image) -> Image.Image:
    """RGB; what was transparent becomes white."""
    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        with_alpha = picture.convert("RGBA")
        ground = Image.new("RGB", with_alpha.size, "white")
        ground.paste(with_alpha, mask=with_alpha.getchannel("A"))
        return ground
    return picture.convert("RGB")


def _written(picture: Image.Image, longest_edge: int) -> tuple[bytes, int, int]:
    # A new image holds pixels only: no EXIF, no colour profile, no comment is carried over.
    fresh = Image.new("RGB", picture.size)
    fresh.paste(picture)
    fresh.thumbnail((longest_edge, longest_edge), Image.Resampling.LANCZOS)
    out = BytesIO()
    fresh.save(out, "JPEG", quality=85, optimize=True, progressive=True)
    return out.getvalue(), fresh.width, fresh.height


def clean_all(uploads: Sequence[File[Any]]) -> list[CleanPicture]:
    """All of them or none: the first one that is no picture stops the lot."""
    return [clean_picture(upload) for upload in uploads]


def store_picture(
    clean: CleanPicture,
    *,
    piece: Piece,
    actor: Actor,
    now: datetime,
    handoff: Handoff | None = None,
    end: End | str = "",
    caption: str = "",
) -> Picture:
    """Write the files and the row; if the row cannot be written, the files are removed again.

    Call it last in a transaction: a later failure would undo the row but leave the files.
    """
    name = secrets.token_hex(16)
    picture = Picture(
        refit_id=piece.refit_id,
        piece=piece,
        handoff=handoff,
        end=end,
        width=clean.width,
        height=clean.height,
        taken_by=actor.name[:120],
        added_at=now,
        caption=caption.strip()[:240],
    )
    written: list[Any] = []
    try:
        for field, content, suffix in (
            (picture.file, clean.large, ""),
            (picture.small, clean.small, "-small"),
        ):
            field.save(f"{name}{suffix}.jpg", ContentFile(content), save=False)
            written.append(field)
        with transaction.atomic():
            picture.save()
    except Exception:
        for field in written:
            field.storage.delete(field.name)
        raise
    return picture


def store_all(
    clean: Sequence[CleanPicture], *, handoff: Handoff, end: End, actor: Actor, now: datetime
) -> list[Picture]:
    """The pictures of one end of a handoff: all of them, or none and no file left behind."""
    stored: list[Picture] = []
    try:
        for one in clean:
            stored.append(
                store_picture(
                    one, piece=handoff.piece, actor=actor, now=now, handoff=handoff, end=end
                )
            )
    except Exception:
        for picture in stored:
            for field in (picture.file, picture.small):
                field.storage.delete(str(field.name))
        raise
    return stored


@transaction.atomic
def add_picture(
    *,
    piece: Piece,
    upload: File[Any],
    actor: Actor,
    now: datetime,
    handoff: Handoff | None = None,
    end: End | str = "",
    caption: str = "",
) -> Picture:
    """Take in one photo of a piece, outside of sending and receiving.

    `NotAPicture` with a sentence, and nothing stored, if it cannot be used.
    """
    picture = store_picture(
        clean_picture(upload),
        piece=piece,
        actor=actor,
        now=now,
        handoff=handoff,
        end=end,
        caption=caption,
    )
    record(
        refit=piece.refit,
        actor=actor,
        now=now,
        verb="photographed",
        subject=piece,
        after={"picture": picture.pk, "caption": picture.caption},
        replan=False,
    )
    return picture
