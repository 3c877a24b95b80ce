"""The colours of the moving picture, and the palette that all its frames share.

One palette, the same for every day and job: what stands still is the same in all frames to the last pixel.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from matplotlib.colors import to_rgb
from PIL import Image

INK, WHITE, EDGE = "#16202a", "#ffffff", "#000000"
PLANE, STEEL, GROUND, WATER = "#2b3c4b", "#5d6670", "#d9d0bf", "#1d5c7a"
SUN, RAY, PATH = "#f5bd1f", "#8a6500", "#7a5a00"
SKY, LEAF, BARE, HILL = "#e6eef4", "#33452f", "#a9b3a4", "#8f8a82"
COOL, WARM = WHITE, "#ef9a5d"

# Neighbours in the picture, and how many colours stand between them where an edge or a letter is smoothed.
_BETWEEN = (
    (INK, WHITE, 12),
    (INK, GROUND, 7),
    (INK, SKY, 3),
    (INK, STEEL, 2),
    (INK, WATER, 2),
    (INK, WARM, 3),
    (COOL, WARM, 7),
    (STEEL, WHITE, 4),
    (STEEL, GROUND, 2),
    (PLANE, WHITE, 4),
    (WATER, WHITE, 5),
    (WATER, WARM, 2),
    (EDGE, SUN, 3),
    (EDGE, LEAF, 1),
    (SUN, WHITE, 1),
    (RAY, WHITE, 4),
    (PATH, SKY, 4),
    (LEAF, SKY, 4),
    (LEAF, BARE, 3),
    (BARE, SKY, 1),
    (HILL, SKY, 2),
)


@cache
def palette() -> Image.Image:
    """An image whose palette holds every colour of the picture and what lies between neighbours."""
    colours: dict[tuple[int, ...], None] = {}
    for one, other, between in _BETWEEN:
        for share in np.linspace(0, 1, between + 2):
            mixed = (1 - share) * np.array(to_rgb(one)) + share * np.array(to_rgb(other))
            colours[tuple(np.rint(255 * mixed).astype(int).tolist())] = None
    held = Image.new("P", (1, 1))
    held.putpalette([part for colour in colours for part in colour])
    return held


def flattened(picture: Image.Image) -> Image.Image:
    """An RGB picture in the colours of the palette."""
    return picture.quantize(palette=palette(), dither=Image.Dither.NONE)
