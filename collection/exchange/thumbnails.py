"""Pictures of a book made small for paper: judged by what is in them, turned upright, and encoded anew.

What comes out holds pixels and nothing else: no EXIF, so no place and no camera, no comment, no colour profile, no
second picture. The bytes of a book are somebody's: a file may lie about its kind, declare a picture that fills all
memory, or break off. Such a one is refused in words; it never ends the report that would have shown it.
"""

from __future__ import annotations

import warnings
from io import BytesIO
from typing import TYPE_CHECKING

from collection.analysis.file_kinds import media_type_of
from collection.errors import Refused

if TYPE_CHECKING:
    from PIL.Image import Image

# Four channels make 200 MB of it while it is made small. A scan of a sheet of A4 at 600 dots an inch has 35 million.
MOST_PIXELS = 50_000_000
_FORMATS = {"image/png": "PNG", "image/jpeg": "JPEG", "image/gif": "GIF", "image/tiff": "TIFF", "image/webp": "WEBP"}
_ORIENTATION = 0x0112  # EXIF 2.32 (CIPA DC-008), 4.6.4 A, "Orientation"; from memory
_QUALITY = 85
_HINT = "Attach one that a viewer opens, as JPEG or PNG."


class NoPicture(Refused):
    """What was given cannot be shown as a picture; the words of `what` say why and can stand in its place."""


def thumbnail(content: bytes, box_px: int, name: str = "the picture") -> bytes:
    """Return a picture as the bytes of a JPEG that fits into a square of box_px pixels a side.

    content: PNG, JPEG, GIF, TIFF or WebP, by its first bytes. The first picture of several is taken, the orientation
    that a camera noted is applied, what is see-through stands on white, and a small picture is not made bigger. Equal
    bytes give equal bytes. name: what it is called in a refusal. Raises NoPicture for a PDF, for what is no picture
    or breaks off, and for one of more than 50 million pixels.
    """
    try:
        kind = media_type_of(content, name)
    except Refused as refusal:
        raise NoPicture(refusal.what, refusal.hint) from None
    if kind not in _FORMATS:
        raise NoPicture(f"{name} is a PDF, no picture.", "Save its page as PNG or JPEG to have it shown.")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of odd tags, and of sizes, which are judged here
        small = _made_small(content, _FORMATS[kind], box_px, name)
    made = BytesIO()
    small.save(made, "JPEG", quality=_QUALITY)
    return made.getvalue()


def _made_small(content: bytes, form: str, box_px: int, name: str) -> Image:
    """Return the picture as plain RGB pixels that carry nothing else."""
    from PIL import Image

    try:
        with Image.open(BytesIO(content), formats=(form,)) as picture:
            width, height = picture.size
            if width * height <= MOST_PIXELS:
                smooth = _smooth(picture)
                # A gap of 1.5 lets a photo be read at an eighth of its size, at no loss that a small picture shows.
                smooth.thumbnail((box_px, box_px), reducing_gap=1.5)
                return _on_white(_upright(smooth))
            says = f"has {width:,} x {height:,} pixels"
    except Image.DecompressionBombError:
        says = "has too many pixels"
    except Exception:  # noqa: BLE001  the readers of five formats raise whatever they stumble on
        raise NoPicture(f"{name} breaks off or is damaged.", _HINT) from None
    raise NoPicture(f"{name} {says}; at most {MOST_PIXELS:,} are shown.", "Save it smaller.")


def _smooth(picture: Image) -> Image:
    """Return the picture in a form that keeps fine lines when made small, and bright spots when made 8 bits a pixel.

    Pillow drops rows from a palette or of black and white, and cuts 16 bits off at the brightness of 8.
    """
    if picture.mode.startswith("I;16"):
        return picture.convert("I").point(lambda level: level * (1 / 256)).convert("L")
    if picture.mode in {"1", "P", "PA"}:
        return picture.convert("RGBA" if picture.has_transparency_data else "RGB")
    return picture


def _upright(picture: Image) -> Image:
    """Return the picture turned as the camera noted it; a damaged note counts as none."""
    from PIL.Image import Transpose

    turns = {
        2: Transpose.FLIP_LEFT_RIGHT,
        3: Transpose.ROTATE_180,
        4: Transpose.FLIP_TOP_BOTTOM,
        5: Transpose.TRANSPOSE,
        6: Transpose.ROTATE_270,
        7: Transpose.TRANSVERSE,
        8: Transpose.ROTATE_90,
    }
    try:
        noted = picture.getexif().get(_ORIENTATION, 1)
    except Exception:  # noqa: BLE001  EXIF is a file in the file, as damaged as somebody likes
        return picture
    return picture.transpose(turns[noted]) if noted in turns else picture


def _on_white(picture: Image) -> Image:
    from PIL import Image

    paper = Image.new("RGB", picture.size, "white")
    if picture.has_transparency_data:
        shown = picture.convert("RGBA")
        paper.paste(shown, mask=shown)
    else:
        paper.paste(picture.convert("RGB"))
    return paper
