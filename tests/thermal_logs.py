"""Plain CSV logs for the tests of the thermal rack, invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd


def write_log(path: Path, *, wind_m_s: float, from_deg: float | None = None, drop: slice | None = None) -> str:
    """Six bright invented days of half hours in March, as a plain CSV log; returns the override that names it."""
    times = pd.date_range("2025-03-18", periods=6 * 48, freq="30min")
    hour = times.hour + times.minute / 60 + 0.25
    high = np.maximum(np.sin(np.pi * (hour - 6.35) / 12.0), 0) * (hour < 18.35)
    dni, dhi = 850 * high**0.3 * (high > 0), 90 * high
    ghi = 0.8 * dni * high + dhi
    lines = ["# label = interval starting", "# utc_offset = -5"]
    lines.append("time,ghi,dni,dhi,air_c,wind_m_s" + (",wind_from_deg" if from_deg is not None else ""))
    direction = "" if from_deg is None else f",{from_deg}"
    rows = [
        f"{time:%Y-%m-%d %H:%M},{g:.1f},{n:.1f},{d:.1f},8,{wind_m_s}{direction}"
        for time, g, n, d in zip(times, ghi, dni, dhi, strict=True)
    ]
    if drop is not None:
        del rows[drop]
    path.write_text("\n".join([*lines, *rows]) + "\n", encoding="utf-8")
    return f"weather.file={path}"
