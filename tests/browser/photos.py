"""A photo as a telephone would send it, made here."""

from __future__ import annotations

from io import BytesIO
from typing import TypedDict

from PIL import Image, ImageDraw


class Photo(TypedDict):
    name: str
    mimeType: str
    buffer: bytes


def a_photo() -> Photo:
    """A JPEG of 1600 × 1200 pixels."""
    image = Image.new("RGB", (1600, 1200), "#7d8a8c")
    draw = ImageDraw.Draw(image)
    draw.rectangle((300, 400, 1300, 800), fill="#d9d2c0", outline="#38424a", width=12)
    draw.line((300, 800, 1300, 400), fill="#38424a", width=8)
    stream = BytesIO()
    image.save(stream, "JPEG", quality=80)
    return {"name": "IMG_0007.jpg", "mimeType": "image/jpeg", "buffer": stream.getvalue()}
