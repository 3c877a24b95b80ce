"""The rack as an instrument has logged it: its angle between the samples, and the file that holds them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.errors import Fault, InputError
from trackersim.job.plain_files import cells_of, read_text, told_lines

FIELD = "rack.log"
_MOST_BYTES = 50_000_000  # a year of minutes is half of it
_MOST_FAULTS = 10
# An inclinometer may read so much beyond the stop (assumption); more says that the stop is another one.
_BEYOND_STOP_DEG = 2.0
_LAYOUT = 'Write the columns time and rotation: "2025-04-15 09:20,-31.5", degrees, west positive.'


@dataclass(frozen=True, kw_only=True)
class RotationLog:
    """Samples of the angle: `unix_s` (k,), rising, and `rotation_deg` (k,), + west."""

    unix_s: FloatArray
    rotation_deg: FloatArray


def logged_rotation(log: RotationLog, *, unix_s: FloatArray, zone: dt.timezone, max_rotation_deg: float) -> FloatArray:
    """Rotation of a rack whose angle was logged.

    Parameters
    ----------
    log : RotationLog
        The samples, k of them.
    unix_s : FloatArray, shape (days, minutes)
        Times at which the rotation is wanted: seconds since 1970 in UTC, one row for each day.
    zone : dt.timezone
        The site's standard time, by which a fault names the days.
    max_rotation_deg : float
        The stops [degrees]; a sample up to 2° beyond one counts as at the stop.

    Returns
    -------
    FloatArray, shape (days, minutes)
        Rotation [degrees], + west: linear between samples, the nearest sample before the first and after the last.

    Raises
    ------
    InputError
        If a day has no sample, naming the days; or if the log goes beyond the stops.

    Notes
    -----
    A gap within a day, and the night between two, is a straight line: how the rack moved there is not known.
    """
    held = within_stops(log.rotation_deg, field=FIELD, max_rotation_deg=max_rotation_deg)
    first, last = np.searchsorted(log.unix_s, [unix_s[:, 0], unix_s[:, -1]])
    last += log.unix_s[np.minimum(last, len(log.unix_s) - 1)] == unix_s[:, -1]
    empty = np.flatnonzero(last <= first)
    if empty.size:
        raise InputError.of(
            FIELD,
            _dates(unix_s[empty], zone),
            "has no sample on these days.",
            f"Ask for days that it covers, {_ends(log, zone)}; an answer for one day reads the two before it too.",
        )
    return np.interp(unix_s, log.unix_s, held)


def within_stops(rotation_deg: FloatArray, *, field: str, max_rotation_deg: float) -> FloatArray:
    """Angles that somebody measured or gave, held within the stops.

    Parameters
    ----------
    rotation_deg : FloatArray
        Any shape [degrees], + west.
    field : str
        What a fault names.
    max_rotation_deg : float
        The stops [degrees]; an angle up to 2° beyond one counts as at the stop.

    Returns
    -------
    FloatArray
        Of that shape.

    Raises
    ------
    InputError
        If an angle lies further beyond a stop.
    """
    furthest = float(np.abs(rotation_deg).max(initial=0.0))
    if furthest > max_rotation_deg + _BEYOND_STOP_DEG:
        reason = f"goes to {furthest:.1f}°, beyond the stops at {max_rotation_deg:g}°."
        raise InputError.of(field, furthest, reason, "Give rack.max_rotation as the rack has it, or mend the angles.")
    return np.clip(rotation_deg, -max_rotation_deg, max_rotation_deg)


def _ends(log: RotationLog, zone: dt.timezone) -> str:
    """Its first and last day."""
    first, last = (dt.datetime.fromtimestamp(float(second), zone).date() for second in log.unix_s[[0, -1]])
    return f"{first} to {last}"


def _dates(unix_s: FloatArray, zone: dt.timezone) -> str:
    """Runs of days in words: "2025-04-01 to 2025-04-14, 2025-05-02"."""
    days = [dt.datetime.fromtimestamp(float(row.mean()), zone).date() for row in unix_s]
    runs: list[list[dt.date]] = []
    for day in days:
        if runs and day - runs[-1][-1] == dt.timedelta(days=1):
            runs[-1].append(day)
        else:
            runs.append([day])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def read_rotation_log(path: Path, *, zone: dt.timezone) -> RotationLog:
    """Read a log from a CSV file with the columns time and rotation; lines that begin with # are remarks.

    Parameters
    ----------
    path : Path
        The file, in UTF-8, comma-separated.
    zone : dt.timezone
        Of times that carry no offset of their own: the site's standard time, without daylight saving.

    Returns
    -------
    RotationLog
        At least one sample.

    Raises
    ------
    InputError
        With every line that cannot be used (the first ten): no time, no angle within ±90°, not later than the one
        before.
    """
    columns, rows = _rows(path)
    faults: list[Fault] = []
    times: list[float] = []
    angles: list[float] = []
    for number, cells in rows:
        try:
            stamp = dt.datetime.fromisoformat(cells[columns["time"]].strip())
            angle = float(cells[columns["rotation"]])
        except (ValueError, IndexError):
            faults.append(_fault(path, number, ",".join(cells), "is no time with an angle."))
            continue
        second = (stamp if stamp.tzinfo else stamp.replace(tzinfo=zone)).timestamp()
        if not -90 <= angle <= 90:
            faults.append(_fault(path, number, cells[columns["rotation"]], "is no angle of −90 to 90°."))
        if times and second <= times[-1]:
            faults.append(_fault(path, number, cells[columns["time"]], "is not later than the line before."))
        times.append(second)
        angles.append(angle)
    if not rows:
        faults.append(Fault(field=FIELD, value=path.name, reason="holds no sample.", remedy=_LAYOUT))
    if faults:
        raise InputError(faults[:_MOST_FAULTS])
    return RotationLog(unix_s=np.array(times), rotation_deg=np.array(angles))


def _fault(path: Path, number: int, value: str, reason: str) -> Fault:
    return Fault(field=FIELD, value=value, reason=f"({path.name}, line {number}) {reason}", remedy=_LAYOUT)


def _rows(path: Path) -> tuple[dict[str, int], list[tuple[int, list[str]]]]:
    """Place of each named column, and the number and cells of each line below the names."""
    large = "A year of minutes is half of that."
    text = read_text(path, field=FIELD, value=path.name, most=_MOST_BYTES, large=large, unread=_LAYOUT)
    told = [(number, line) for number, line in told_lines(text) if not line.lstrip().startswith("#")]
    table = [cells_of(line) for _, line in told]
    names = [name.strip().lower() for name in table[0]] if table else []
    if not {"time", "rotation"} <= set(names):
        raise InputError.of(FIELD, path.name, "has no columns named time and rotation.", _LAYOUT)
    columns = {"time": names.index("time"), "rotation": names.index("rotation")}
    return columns, [(number, cells) for (number, _), cells in zip(told[1:], table[1:], strict=True)]
