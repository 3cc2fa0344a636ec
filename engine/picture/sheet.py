# SPDX-License-Identifier: MIT
"""Pictures as files: the shots of a symptom side by side, contact sheets, and films.

Limits: captions are in the picture library's own letters.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from backporch.engine.errors import OutOfRange
from backporch.engine.knowledge.models import Drawn
from backporch.engine.picture.shots import film_pictures, shot_picture

__all__ = ["Entry", "contact_sheet", "film_file", "png_bytes", "strip"]

Colours = NDArray[np.uint8]

_PAPER, _INK, _QUIET = (245, 243, 239), (32, 32, 36), (96, 94, 92)
_GAP = 12
_GREYS = 48


@dataclass(frozen=True)
class Entry:
    """One symptom of a contact sheet."""

    title: str
    picture: Image.Image


def _letters(size: int) -> ImageFont.ImageFont | ImageFont.FreeTypeFont:
    return ImageFont.load_default(size)


def strip(drawn: Drawn, columns: int = 320, standard: str = "525/60") -> Image.Image:
    """Return the shots of a symptom side by side, each with its caption below.

    Args:
        drawn: How the symptom is drawn.
        columns: Columns of each shot.
        standard: Name of the scanning standard.
    Example:
        >>> from backporch.engine.knowledge.models import Shot
        >>> strip(Drawn(shots=(Shot(), Shot(caption="later"))), 64).size[0] > 128
        True
    """
    rows, count = columns * 3 // 4, len(drawn.shots)
    size = max(columns // 20, 10)
    caption = size * 2 if any(shot.caption for shot in drawn.shots) else 0
    sheet = Image.new("RGB", (count * columns + (count - 1) * _GAP, rows + caption), _PAPER)
    pen = ImageDraw.Draw(sheet)
    for n, shot in enumerate(drawn.shots):
        left = n * (columns + _GAP)
        sheet.paste(Image.fromarray(shot_picture(shot, columns, standard)), (left, 0))
        pen.text((left + 2, rows + size // 3), shot.caption, fill=_INK, font=_letters(size))
    return sheet


def contact_sheet(heading: str, entries: Sequence[Entry], across: int = 1900) -> Image.Image:
    """Return pictures with their titles under one heading, in as many rows as they need.

    Args:
        heading: Said at the top, or "".
        entries: Titles and pictures, in order.
        across: Width of the sheet in pixels.
    Raises:
        OutOfRange: there is no picture, or one is wider than the sheet.
    Example:
        >>> one = Entry("a", Image.new("RGB", (50, 40)))
        >>> contact_sheet("all", [one, one], 200).size
        (200, 150)
    """
    if not entries or max(e.picture.width for e in entries) + 2 * _GAP > across:
        raise OutOfRange(f"A sheet {across} pixels wide needs at least one picture and none that is wider.")
    placed, x, y, row = [], _GAP, 60 if heading else _GAP, 0
    for entry in entries:
        if x + entry.picture.width + _GAP > across:
            x, y, row = _GAP, y + row + _GAP, 0
        placed.append((x, y, entry))
        x, row = x + entry.picture.width + 2 * _GAP, max(row, entry.picture.height + 38)
    sheet = Image.new("RGB", (across, y + row + _GAP), _PAPER)
    pen = ImageDraw.Draw(sheet)
    if heading:
        pen.text((_GAP, 14), heading, fill=_INK, font=_letters(30))
    for x, y, entry in placed:
        pen.text((x, y), entry.title, fill=_INK, font=_letters(20))
        sheet.paste(entry.picture, (x, y + 30))
    return sheet


def png_bytes(picture: Image.Image | Colours, *, colours: int = 0) -> bytes:
    """Return a picture as a PNG file, with a palette of ``colours`` where that is smaller than 256.

    Example:
        >>> png_bytes(np.zeros((8, 8, 3), dtype=np.uint8))[:4]
        b'\\x89PNG'
    """
    image = picture if isinstance(picture, Image.Image) else Image.fromarray(picture)
    if colours:
        image = image.quantize(colours)
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


def film_file(drawn: Drawn, columns: int = 240, kind: str = "GIF", frames: int = 24) -> bytes:
    """Return the film of a symptom as an animated GIF or PNG that goes round, or b"" where nothing moves.

    Args:
        drawn: How the symptom is drawn.
        columns: Columns of the film.
        kind: "GIF" or "PNG".
        frames: Pictures, twelve a second.
    Example:
        >>> from backporch.engine.knowledge.models import Film, Shot
        >>> moving = Drawn(shots=(Shot(),), film=Film(look={"rolled": 1.0}))
        >>> film_file(moving, 64, frames=3)[:6]
        b'GIF89a'
    """
    pictures = [_few_greys(picture) for picture in film_pictures(drawn, columns, frames)]
    return _animated(pictures, kind) if pictures else b""


def _few_greys(picture: Colours) -> Image.Image:
    return Image.fromarray(picture).quantize(_GREYS, dither=Image.Dither.NONE)


def _animated(pictures: Iterable[Image.Image], kind: str) -> bytes:
    first, *others = pictures
    out = io.BytesIO()
    first.save(out, kind, save_all=True, append_images=others, duration=1000 // 12, loop=0)
    return out.getvalue()
