"""Pictures as phones and scanners send them."""

import zlib
from io import BytesIO

from PIL import Image

PDF = b"%PDF-1.7 a receipt"


def picture(
    size: tuple[int, int] = (40, 30), form: str = "JPEG", mode: str = "RGB", **more: object
) -> bytes:
    """Make a picture, red in its upper left quarter and else white."""
    width, height = size
    drawn = Image.new("RGB", size, "white")
    drawn.paste("red", (0, 0, width // 2, height // 2))
    made = BytesIO()
    drawn.convert(mode).save(made, form, **more)
    return made.getvalue()


def png_of_size(width: int, height: int) -> bytes:
    """Make the head of a PNG that says it is that large, and nothing behind it."""
    small = picture((8, 8), "PNG")
    size = width.to_bytes(4, "big") + height.to_bytes(4, "big")
    head = b"IHDR" + size + small[24:29]
    return small[:12] + head + _crc(head) + small[33:]


def _crc(chunk: bytes) -> bytes:
    return zlib.crc32(chunk).to_bytes(4, "big")
