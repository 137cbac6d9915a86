"""A logo: read within bounds and drawn anew, so that a picture passes and nothing else does."""

from __future__ import annotations

import base64
import binascii
import io
from pathlib import Path

from freecool.core.errors import CaseError
from freecool.core.regular_file import read_regular

# Our own bounds: what is read, and what is kept, which prints sharp at the width that a report gives it.
MOST_BYTES = 1_000_000
MOST_SIDE_PX = 4000
KEPT_PX = (400, 130)
MOST_TEXT = 4 * MOST_BYTES // 3 + 4
FORMATS = ("PNG", "JPEG", "GIF", "WEBP")
ACCEPTED = (
    f"expected a PNG, JPEG, GIF or WebP picture of at most {MOST_BYTES:,} bytes and {MOST_SIDE_PX:,} pixels a side"
)


def read_logo(path: Path) -> str:
    """The text of a logo, given the path of its picture.

    Parameters
    ----------
    path : Path
        Of a PNG, JPEG, GIF or WebP file.

    Returns
    -------
    str
        For `quote.logo`: base64 of a small PNG, as `redrawn` makes it.

    Raises
    ------
    CaseError
        No such file, or one that is no picture by its size.
    """
    try:
        picture = _drawn(read_regular(path, MOST_BYTES))
    except FileNotFoundError:
        raise CaseError(f"{path}: no such logo; give the path of a PNG, JPEG, GIF or WebP picture.") from None
    except OSError as error:
        raise CaseError(f"{path}: cannot be read as a logo ({error.strerror or error}); {ACCEPTED}.") from None
    except ValueError as error:
        raise CaseError(f"{path}: {error}.") from None
    return base64.b64encode(picture).decode()


def redrawn(text: str) -> str:
    """A logo as a small PNG without anything but its pixels, given its base64 text.

    Parameters
    ----------
    text : str
        Base64 of a PNG, JPEG, GIF or WebP picture.

    Returns
    -------
    str
        Base64 of a PNG of at most 400 by 130 pixels.

    Raises
    ------
    ValueError
        No picture, or one that is too large.
    """
    try:
        picture = base64.b64decode(text, validate=True)
    except binascii.Error:
        raise ValueError(f"the logo is no base64 text, {ACCEPTED}") from None
    return base64.b64encode(_drawn(picture)).decode()


def _drawn(picture: bytes) -> bytes:
    from PIL import Image, UnidentifiedImageError

    try:
        # The head tells the size; no pixel is unpacked before it is judged.
        with Image.open(io.BytesIO(picture), formats=FORMATS) as opened:
            if max(opened.size) > MOST_SIDE_PX:
                raise ValueError(f"the logo has {opened.width:,} by {opened.height:,} pixels, {ACCEPTED}")
            seen = opened.convert("RGBA")
    except UnidentifiedImageError:
        raise ValueError(f"the logo is no picture of these kinds, {ACCEPTED}") from None
    except (OSError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise ValueError(f"the logo cannot be read ({error}), {ACCEPTED}") from None
    seen.thumbnail(KEPT_PX)
    # A new picture: what a file holds beside its pixels (place, camera, profile, comments) stays behind.
    clean = Image.new("RGBA", seen.size)
    clean.paste(seen)
    kept = io.BytesIO()
    clean.save(kept, format="PNG", optimize=True)
    return kept.getvalue()
