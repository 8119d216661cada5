"""What may be kept of a file somebody sends? A picture drawn anew, or a PDF as it is.

A photo says where and when it was taken, and a crafted one can fill a computer's memory. So a
picture is measured before it is decoded, and only its dots are kept.
"""

import struct
import zlib
from dataclasses import dataclass
from io import BytesIO
from threading import Lock

from PIL import Image, ImageOps

from backoffice.errors import Refused

MOST = 10 * 1024 * 1024
MOST_DOTS = {"JPEG": 40_000_000, "PNG": 12_000_000, "WEBP": 12_000_000}  # a JPEG is read smaller
LONGEST_SIDE = 2_000
QUALITY = 85

_HEIC = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_BROKEN = (
    OSError, SyntaxError, ValueError, EOFError, IndexError, KeyError, TypeError, OverflowError,
    struct.error, zlib.error,
)  # fmt: skip
_DIRECT = {"RGB", "RGBA", "L", "CMYK"}
_CONVERTED = {"P": "RGBA", "LA": "RGBA", "1": "L", "YCbCr": "RGB"}  # no other is a photo's
_TOO_WIDE = (Image.DecompressionBombError, Image.DecompressionBombWarning)
_one_at_a_time = Lock()  # a picture being decoded may take 200 MB


@dataclass(frozen=True, slots=True)
class Upload:
    """A file that may be kept: ``read`` makes it."""

    content: bytes
    media_type: str


def read(content: bytes) -> Upload:
    """Take a photo or a PDF as somebody sent it, and leave out of a photo all but what it shows.

    A photo comes back upright, at most 2,000 dots a side, as a JPEG without place, time or
    any other note. A PDF stays as it is.
    Raises: Refused for any other kind of file, one that cannot be read, beyond 10 MB, and for a
    picture of more than 40 million dots, or 12 million unless it is a JPEG.
    """
    if len(content) > MOST:
        raise Refused("file.too_large", field="file", most=MOST // 1024 // 1024)
    if content.startswith(b"%PDF-"):
        return Upload(content, "application/pdf")
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC:
        raise Refused("file.heic", field="file")
    if not _is_picture(content):
        raise Refused("file.kind", field="file")
    with _one_at_a_time:
        return Upload(_drawn_anew(content), "image/jpeg")


def _is_picture(content: bytes) -> bool:
    webp = content[:4] == b"RIFF" and content[8:12] == b"WEBP"
    return webp or content.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"))


def _drawn_anew(content: bytes) -> bytes:
    try:
        with Image.open(BytesIO(content), formats=tuple(MOST_DOTS)) as sent:
            most = MOST_DOTS[sent.format or ""]
            if sent.width * sent.height > most:
                raise Refused("file.too_many_dots", field="file", most=most // 1_000_000)
            return _as_jpeg(sent)
    except _TOO_WIDE:
        most = max(MOST_DOTS.values())
        raise Refused("file.too_many_dots", field="file", most=most // 1_000_000) from None
    except _BROKEN:
        raise Refused("file.unreadable", field="file") from None


def _as_jpeg(sent: Image.Image) -> bytes:
    """Draw a picture on a white sheet of its own, so that nothing written in it comes along."""
    longest = max(sent.size)
    if longest > LONGEST_SIDE:
        wide, high = (side * LONGEST_SIDE // longest for side in sent.size)
        sent.draft(None, (wide or 1, high or 1))
    if sent.mode not in _DIRECT:
        sent = sent.convert(_CONVERTED[sent.mode])
    sent.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    upright = ImageOps.exif_transpose(sent)
    shown = upright.convert("RGBA" if upright.mode == "RGBA" else "RGB")
    sheet = Image.new("RGB", shown.size, "white")
    sheet.paste(shown, mask=shown if shown.mode == "RGBA" else None)
    made = BytesIO()
    sheet.save(made, "JPEG", quality=QUALITY)
    return made.getvalue()
