"""Conductors by their number in the American wire gauge."""

from __future__ import annotations

import math

# Area of gauge n from the definition of the series, d = 0.127 mm · 92^((36 − n)/39) (ASTM B258): an identity.
AWG_AREA_MM2: dict[str, float] = {
    **{str(n): math.pi / 4 * (0.127 * 92 ** ((36 - n) / 39)) ** 2 for n in (18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1)},
    **{f"{zeros}/0": math.pi / 4 * (0.127 * 92 ** ((35 + zeros) / 39)) ** 2 for zeros in (1, 2, 3, 4)},
}
