"""Photos by their content: turned, written anew, stripped of all but pixels, and refused where they are none."""

import io
import struct
import zlib

import pytest
from PIL import Image

from plant import pictures
from plant.pictures import PictureError, cleaned


def saved(image, kind="JPEG", **more):
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def halves(width=40, height=20):
    """Left half dark, right half light."""
    image = Image.new("RGB", (width, height), "white")
    image.paste("black", (0, 0, width // 2, height))
    return image


def with_exif():
    exif = Image.Exif()
    exif[0x0112] = 6  # turned a quarter to the right to stand upright (TIFF 6.0, tag Orientation)
    exif[0x010F] = "A maker of phones"
    exif.get_ifd(0x8825)[2] = (59.0, 54.0, 0.0)  # a latitude (Exif 2.3, GPS IFD)
    return saved(halves(), exif=exif)


def test_a_photo_is_turned_upright_and_nothing_but_pixels_is_left():
    raw = with_exif()
    assert b"A maker of phones" in raw
    kept = cleaned(raw)
    assert (kept.width, kept.height) == (20, 40), "a quarter turn"
    with Image.open(io.BytesIO(kept.jpeg)) as image:
        assert image.format == "JPEG"
        assert not dict(image.getexif())
        assert "icc_profile" not in image.info
        assert image.getpixel((10, 2))[0] < 40 < 200 < image.getpixel((10, 37))[0], "what was left is on top"
    assert b"Exif" not in kept.jpeg


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "JPEG"])
def test_three_kinds_are_taken_whatever_their_name(kind):
    kept = cleaned(saved(halves(), kind))
    assert kept.jpeg.startswith(b"\xff\xd8\xff")


def test_what_is_see_through_stands_on_white():
    kept = cleaned(saved(Image.new("RGBA", (10, 10), (0, 0, 0, 0)), "PNG"))
    with Image.open(io.BytesIO(kept.jpeg)) as image:
        assert image.getpixel((5, 5)) == (255, 255, 255)


def test_text_and_what_hangs_behind_the_image_are_left_behind():
    raw = saved(halves()) + b"<script>alert(1)</script>"
    assert b"script" not in cleaned(raw).jpeg


def test_a_large_photo_is_made_smaller():
    kept = cleaned(saved(Image.new("RGB", (4000, 1000), "grey")))
    assert (kept.width, kept.height) == (2560, 640)


def png_of(width, height):
    """A few bytes that claim to be a large image."""

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 9)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "The file is empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "no photo that can be kept"),
        (b"GIF89a" + b"\0" * 40, "no photo that can be kept"),
        (b"%PDF-1.7 something", "no photo that can be kept"),
        (b"PK\x03\x04" + b"\0" * 60, "no photo that can be kept"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 30, "damaged|no photo that can be kept"),
        (saved(halves(400, 400))[:600], "damaged"),
        (png_of(20, 20), "damaged"),
        (png_of(9_000, 9_000), "million pixels"),
        (png_of(60_000, 60_000), "million pixels"),
        (b"\xff\xd8\xff" + b"\0" * pictures.MOST_BYTES, "at most 20 MB are kept"),
    ],
)
def test_what_is_no_photo_is_refused_with_why(raw, said):
    with pytest.raises(PictureError, match=said):
        cleaned(raw)
