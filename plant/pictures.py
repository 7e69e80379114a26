"""Photos as they come from phones, made safe to keep: known by their content, turned upright, written anew.

What is kept is a new JPEG of the pixels alone: no place, no time, no serial number of a phone, no text, no second image
inside. Nothing is taken by its name or by what the sender calls it.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

from PIL import Image, ImageOps, UnidentifiedImageError

KINDS = ("JPEG", "PNG", "WEBP")
MOST_BYTES = 20_000_000
MOST_PIXELS = 60_000_000
LONGEST_SIDE = 2560
QUALITY = 85


class PictureError(Exception):
    """What was sent is no photo that can be kept; the message is for whoever sent it."""


@dataclass(frozen=True)
class Picture:
    """A photo as it is kept."""

    jpeg: bytes
    width: int
    height: int


def cleaned(raw: bytes) -> Picture:
    """The photo upright, at most 2560 pixels long, as a JPEG without anything but its pixels.

    Raises
    ------
    PictureError
        Empty, too many bytes or pixels, not JPEG, PNG or WebP by its content, or damaged.
    """
    if not raw:
        raise PictureError("The file is empty: choose a photo.")
    if len(raw) > MOST_BYTES:
        raise PictureError(
            f"{len(raw) / 1e6:.0f} MB; at most {MOST_BYTES / 1e6:.0f} MB are kept: send a smaller photo."
        )
    try:
        with warnings.catch_warnings():
            # A file that unpacks to far more than it weighs is refused by its header, before it is unpacked.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=KINDS) as image:
                return _written(image)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise PictureError(_too_large()) from error
    except UnidentifiedImageError as error:
        said = "This is no photo that can be kept: JPEG, PNG or WebP, known by its content and not by its name."
        raise PictureError(said) from error
    except (OSError, ValueError, SyntaxError, EOFError, KeyError, IndexError, TypeError) as error:
        raise PictureError("This photo is damaged and cannot be read: take it again, or send another.") from error


def _written(image: Image.Image) -> Picture:
    if image.width * image.height > MOST_PIXELS:
        raise PictureError(_too_large())
    image.load()
    upright = ImageOps.exif_transpose(image)
    if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
        upright = upright.convert("RGBA")
        plain = Image.new("RGB", upright.size, "white")
        plain.paste(upright, mask=upright.getchannel("A"))
    else:
        # Pixels alone: a copy by its bytes leaves every chunk and profile behind.
        turned = upright.convert("RGB")
        plain = Image.frombytes("RGB", turned.size, turned.tobytes())
    plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=QUALITY, optimize=True)
    return Picture(out.getvalue(), plain.width, plain.height)


def _too_large() -> str:
    return f"More than {MOST_PIXELS / 1e6:.0f} million pixels: send a smaller photo."
