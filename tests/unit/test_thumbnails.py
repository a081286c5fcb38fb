"""Pictures made small for paper: what is shown of them, what is left behind, and what is refused in words."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from PIL import Image, TiffImagePlugin
from PIL.Image import Transpose

from collection.exchange.thumbnails import MOST_PIXELS, NoPicture, thumbnail
from tests.support.hostile_pictures import HOSTILE_PICTURES, declared_png

# How the rows and columns of a picture lie whose tag 0x0112 has this number: EXIF 2.32 (CIPA DC-008), 4.6.4 A; from
# memory. The picture is shown upright again by undoing it.
_LAID = {
    2: Transpose.FLIP_LEFT_RIGHT,
    3: Transpose.ROTATE_180,
    4: Transpose.FLIP_TOP_BOTTOM,
    5: Transpose.TRANSPOSE,
    6: Transpose.ROTATE_90,
    7: Transpose.TRANSVERSE,
    8: Transpose.ROTATE_270,
}


def encoded(picture: Image.Image, form: str, **more: Any) -> bytes:
    """Return the picture as the bytes of a file."""
    made = BytesIO()
    picture.save(made, form, **more)
    return made.getvalue()


def opened(content: bytes) -> Image.Image:
    """Return the picture in the bytes of a JPEG."""
    return Image.open(BytesIO(content), formats=("JPEG",))


def front() -> Image.Image:
    """Return a blue picture, 400 wide and 200 high, with red in its upper left corner."""
    picture = Image.new("RGB", (400, 200), "blue")
    picture.paste("red", (0, 0, 100, 100))
    return picture


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_a_picture_stands_upright_however_the_camera_was_held(form: str) -> None:
    """All eight orientations of EXIF come out alike: half as high as wide, the red corner upper left."""
    for number in range(1, 9):
        lying = front().transpose(_LAID[number]) if number in _LAID else front()
        tags = TiffImagePlugin.ImageFileDirectory_v2() if form == "TIFF" else Image.Exif()
        tags[0x0112] = number
        made = opened(thumbnail(encoded(lying, form, **{"tiffinfo" if form == "TIFF" else "exif": tags}), 100))
        red, blue = made.getpixel((10, 10)), made.getpixel((90, 40))
        assert isinstance(red, tuple)
        assert isinstance(blue, tuple)
        assert ((100, 50), True, True) == (made.size, red[0] > 200 > red[2], blue[2] > 200 > blue[0]), number


def test_nothing_but_pixels_comes_out() -> None:
    """Neither the place nor the camera, no comment and no profile; what went in had them all."""
    tags = Image.Exif()
    tags[0x010F] = "Halverby"  # maker of the camera
    tags.get_ifd(0x8825)[1] = "N"  # where it was
    content = encoded(front(), "JPEG", exif=tags, comment=b"Ilse", icc_profile=b"a profile of colours", dpi=(72, 72))
    assert all(word in content for word in (b"Halverby", b"Ilse", b"a profile of colours"))
    made = thumbnail(content, 100)
    assert {} == dict(opened(made).getexif())
    assert not [word for word in (b"Exif", b"Halverby", b"Ilse", b"profile", b"\xff\xe1", b"\xff\xfe") if word in made]


@pytest.mark.parametrize(("box", "size"), [(399, (399, 200)), (400, (400, 200)), (401, (400, 200))])
def test_a_picture_fits_its_box_and_is_never_made_bigger(box: int, size: tuple[int, int]) -> None:
    """400 x 200 pixels in a box a little smaller, just as wide, and a little wider."""
    assert size == opened(thumbnail(encoded(front(), "PNG"), box)).size


@pytest.mark.parametrize(
    ("picture", "form", "grey"),
    [
        (Image.new("RGBA", (50, 50), (0, 0, 0, 0)), "PNG", 255),
        (Image.new("I;16", (50, 50), 32768), "PNG", 128),
        (Image.new("I;16B", (50, 50), 32768), "TIFF", 128),
        (Image.new("CMYK", (50, 50), (0, 0, 0, 0)), "JPEG", 255),
        (Image.linear_gradient("L").point(lambda level: 255 * (level % 2), "1"), "PNG", 128),
    ],
    ids=["see-through", "16 bits", "16 bits the other way", "inks", "black and white"],
)
def test_every_form_of_a_picture_is_shown_as_it_looks(picture: Image.Image, form: str, grey: int) -> None:
    """See-through on white, sixteen bits not burnt out, inks as paper, fine lines as their shade of grey."""
    pixel = opened(thumbnail(encoded(picture, form), 25)).getpixel((12, 12))
    assert isinstance(pixel, tuple)
    assert max(abs(grey - each) for each in pixel) <= 3


def test_a_size_is_judged_before_anything_is_unpacked() -> None:
    """At the limit the picture is read, and found to break off; above it and far above it is refused for its size."""
    side = 5000
    assert MOST_PIXELS == side * 10_000
    for height, words in (
        (10_000, "breaks off or is damaged"),
        (10_001, "has 5,000 x 10,001 pixels; at most 50,000,000 are shown"),
        (2_000_000, "has too many pixels; at most 50,000,000 are shown"),
    ):
        with pytest.raises(NoPicture, match=rf"^front\.png {words}"):
            thumbnail(declared_png(side, height), 100, "front.png")


def test_what_cannot_be_shown_is_refused_in_words() -> None:
    """A PDF, no picture at all, one cut short at any place, one whose name of a kind is all that is right."""
    whole = encoded(front(), "PNG")
    for content in (b"%PDF-1.7", b"", b"<svg/>", b"GIF89a", b"II*\0", b"\xff\xd8\xff\xe0", b"RIFF\0\0\0\0WEBPVP8 "):
        with pytest.raises(NoPicture, match=r"^the receipt "):
            thumbnail(content, 100, "the receipt")
    for length in range(8, len(whole) - 12, 97):
        with pytest.raises(NoPicture, match="breaks off or is damaged"):
            thumbnail(whole[:length], 100)


def test_damaged_notes_of_a_camera_leave_a_picture_as_it_lies() -> None:
    """EXIF that breaks off at any place never hides the picture."""
    tags = Image.Exif()
    tags[0x0112], tags[0x010F] = 6, "Halverby"
    whole = tags.tobytes()
    for length in range(6, len(whole)):
        assert opened(thumbnail(encoded(front(), "JPEG", exif=whole[:length]), 100)).size in {(100, 50), (50, 100)}


def test_equal_pictures_give_equal_bytes() -> None:
    """So a report that is made twice is the same twice."""
    content = encoded(front(), "WEBP")
    assert thumbnail(content, 80) == thumbnail(content, 80)


@pytest.mark.parametrize("name", HOSTILE_PICTURES)
def test_a_hostile_picture_is_refused_in_words_or_shown_without_what_is_hidden_in_it(name: str) -> None:
    """Sizes that fill all memory, texts that swell, strips without end, a page or a script behind the picture."""
    content, words = HOSTILE_PICTURES[name]
    if words:
        with pytest.raises(NoPicture, match=words):
            thumbnail(content, 64, name)
    else:
        made = thumbnail(content, 64, name)
        assert ("JPEG", b"script" in made) == (opened(made).format, False)
