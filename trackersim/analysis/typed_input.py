"""What somebody at a site types or picks, as numbers in SI; every fault at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Any, TypeVar, get_args

from trackersim.analysis.flow_measurement import FLOW_ERROR, Measured, Readings, timed_flow, told_flow
from trackersim.analysis.observed_sky import Seen, SkyWord, Stands, WindWord
from trackersim.errors import Fault, InputError
from trackersim.quantity_reading import UnitError, read_quantity
from trackersim.quantity_text import MOST_LIST_LETTERS
from trackersim.quantity_writing import NEEDED_IN_TEXT, in_both

T = TypeVar("T")

_ALWAYS_SAID = ("W/m**2",)  # of units that no job file holds

_MOST_M3, _MOST_M3_S, _LONGEST_S = 20.0, 1.0, 36_000.0
_SHORTEST_S = 0.2  # no thumb starts and stops a watch faster
_DECIMAL_COMMA = re.compile(r"\d,\d")
_SMALLEST_AIR_C, _LARGEST_AIR_C = -60.0, 60.0


class Reading:
    """Reads one thing after another and keeps the faults, to tell them all at once."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def take(self, read: Callable[[], T], instead: T) -> T:
        """What `read` gives, or `instead` after an `InputError`, whose faults are kept."""
        try:
            return read()
        except InputError as error:
            self.faults += error.faults
            return instead

    def done(self) -> None:
        """Raise `InputError` if anything was wrong."""
        if self.faults:
            raise InputError(self.faults)


def quantity(
    field: str, text: str, unit: str, *, least: float, most: float, example: str, above: bool = False
) -> float:
    """Text with a unit as a number in `unit`, from `least` (or above it) to `most`. A bare number is refused."""
    try:
        value = read_quantity(text, unit, unit_needed=unit in NEEDED_IN_TEXT or unit in _ALWAYS_SAID)
    except UnitError as error:
        other = ' or "5C"' if unit == "degC" else ""  # a bare 34 is frost in one system and a hot day in the other
        raise InputError.of(field, text, str(error), f'Write it with its unit, "{example}"{other}.') from None
    return bounded(field, text, value, unit, least=least, most=most, above=above, example=example)


def bounded(
    field: str, given: object, value: float, unit: str, *, least: float, most: float, example: str, above: bool = False
) -> float:
    """`value` in `unit` if it lies between the limits; the refusal names them in metric and US units."""
    if not (least < value if above else least <= value) or not value <= most:
        start = "above" if above else "at least"
        low, high = (f"{100 * end:g} %" if example.endswith("%") else in_both(end, unit) for end in (least, most))
        limits = f"must be {start} {low} and at most {high}"
        raise InputError.of(field, given, f"{limits}.", f'Give it like "{example}".')
    return value


def seen_of(*, sky: str = "unknown", wind: str = "unknown", air: str | None = None) -> Seen:
    """Sky, wind and air as a person tells them: words, and "41F" or nothing."""
    reading = Reading()
    checked = [
        reading.take(lambda: _word("sky", sky, get_args(SkyWord)), "unknown"),
        reading.take(lambda: _word("wind", wind, get_args(WindWord)), "unknown"),
    ]
    air_c = None
    if air is not None:
        air_c = reading.take(
            lambda: quantity("air", air, "degC", least=_SMALLEST_AIR_C, most=_LARGEST_AIR_C, example="41F"), 0.0
        )
    reading.done()
    words: Any = checked
    return Seen(sky=words[0], wind=words[1], air_c=air_c)


def stands_of(stands: str | None) -> Stands | None:
    """How the rack stands: west, level, east, or nothing said."""
    if stands is None:
        return None
    word: Any = _word("stands", stands, get_args(Stands))
    checked: Stands = word
    return checked


def _word(field: str, given: str, known: Iterable[str]) -> str:
    words = tuple(known)
    if given.strip().lower() not in words:
        raise InputError.of(field, given, "is not one of the words.", f"Choose {', '.join(words)}.")
    return given.strip().lower()


def measured_of(
    *, volume: str | None, seconds: Sequence[str] = (), flow: str | None = None, flow_error: str | None = None
) -> Measured:
    """A flow from fills ("5 gal" in "9.8", "9.9" seconds) or as a meter tells it ("28 gpm", right to "5 %")."""
    if flow is not None:
        return _told(volume, seconds, flow, flow_error)
    if volume is None or not seconds:
        missing = "volume" if volume is None else "seconds"
        remedy = 'Give the volume of a fill, "5 gal", and the seconds of each, "9.8"; or a meter\'s flow, "28 gpm".'
        raise InputError.of(missing, None, "is missing: no flow was told.", remedy)
    reading = Reading()
    held = reading.take(
        lambda: quantity("volume", volume, "m**3", least=0, most=_MOST_M3, above=True, example="5 gal"), 1.0
    )
    words = _each_fill(seconds)
    times = [reading.take(partial(_seconds, word), 1.0) for word in words]
    if flow_error is not None:
        reason = "belongs to a meter's flow; fills tell their own error."
        reading.faults.append(Fault(field="flow_error", value=flow_error, reason=reason, remedy="Leave it out."))
    reading.done()
    measured = timed_flow(held, times)
    if measured.flow_m3_s > _MOST_M3_S:
        reason = f"with this volume make a flow of more than {in_both(_MOST_M3_S, 'm**3/s')}."
        raise InputError.of("seconds", " ".join(words), reason, "Look at the volume and the seconds again.")
    return measured


def _each_fill(seconds: Sequence[str]) -> list[str]:
    """The seconds of each fill, written one by one or together: "9.8 9.9, 10.2".

    "29,5" is one number to some and two to others: it is refused.
    """
    if sum(len(text) for text in seconds) > MOST_LIST_LETTERS:
        raise InputError.of("seconds", "…", "is too long.", 'Give the seconds of a few fills, "9.8 9.9 10.2".')
    if comma := next((text for text in seconds if _DECIMAL_COMMA.search(text)), None):
        remedy = 'Write decimals with a point, and the fills with spaces between: "9.8 9.9 10.2".'
        raise InputError.of("seconds", comma, "has a comma between two digits: one number, or two?", remedy)
    words = [word for text in seconds for word in text.replace(",", " ").replace(";", " ").split()]
    if not words:
        raise InputError.of("seconds", " ".join(seconds), "is empty.", 'Give the seconds of each fill, "9.8 9.9 10.2".')
    return words


def _seconds(word: str) -> float:
    try:
        value = read_quantity(word, "s")
    except UnitError as error:
        raise InputError.of("seconds", word, str(error), "Give the seconds of one fill, 9.8.") from None
    return bounded("seconds", word, value, "s", least=_SHORTEST_S, most=_LONGEST_S, example="9.8")


def _told(volume: str | None, seconds: Sequence[str], flow: str, flow_error: str | None) -> Measured:
    reading = Reading()
    if volume is not None or seconds:
        reason = "is given beside the volume or the seconds of fills."
        reading.faults.append(Fault(field="flow", value=flow, reason=reason, remedy="Give the fills or the flow."))
    rate = reading.take(lambda: quantity("flow", flow, "m**3/s", least=0, most=_MOST_M3_S, example="28 gpm"), 0.0)
    share = FLOW_ERROR
    if flow_error is not None:
        share = reading.take(lambda: quantity("flow_error", flow_error, "", least=0, most=0.9, example="5 %"), 0.0)
    reading.done()
    return told_flow(rate, share)


def readings_of(
    *,
    light: str | None = None,
    pressure: str | None = None,
    gauge_above: str | None = None,
    voltage: str | None = None,
    current: str | None = None,
    unit: str | None = None,
    names: Sequence[str] = (),
    stands: str | None = None,
    rotation: str | None = None,
) -> Readings:
    """What else was read, as typed: "760 W/m2", "35 psi", "0 ft", "68 V", "8.2 A", "20" or "20 west" (degrees).

    `unit` is one of `names`, what the job calls its units, or its number from 1.
    """
    reading = Reading()

    def read(field: str, text: str | None, unit: str, *, least: float, most: float, example: str) -> float | None:
        if text is None:
            return None
        return reading.take(lambda: quantity(field, text, unit, least=least, most=most, example=example), 0.0)

    if gauge_above is not None and pressure is None:
        reason, remedy = "says nothing without a pressure.", "Give the gauge's pressure too."
        reading.faults.append(Fault(field="gauge_above", value=gauge_above, reason=reason, remedy=remedy))
    found = Readings(
        light_w_m2=read("light", light, "W/m**2", least=1, most=1600, example="760 W/m2"),
        pressure_kpa=read("pressure", pressure, "kPa", least=0, most=20_000, example="35 psi"),
        gauge_above_m=read("gauge_above", gauge_above, "m", least=-20, most=600, example="96 ft") or 0.0,
        voltage_v=read("voltage", voltage, "V", least=0, most=1500, example="68 V"),
        current_a=read("current", current, "A", least=0, most=500, example="8.2 A"),
        unit=reading.take(lambda: unit_called(unit, names), 0),
        stands=reading.take(lambda: stands_of(stands), None),
        rotation_deg=None if rotation is None else reading.take(lambda: _rotation(rotation), 0.0),
    )
    reading.done()
    return found


_SIDES = {"west": 1.0, "w": 1.0, "east": -1.0, "e": -1.0}


def _rotation(text: str) -> float:
    """An angle with the side it leans to, "20 west", or with its sign, west positive."""
    number, _, side = text.strip().casefold().rpartition(" ")
    example = "20 west"
    if side not in _SIDES:
        return quantity("rotation", text, "deg", least=-90, most=90, example=example)
    return _SIDES[side] * quantity("rotation", number, "deg", least=0, most=90, example=example)


def unit_called(typed: str | None, names: Sequence[str]) -> int:
    """The place of the unit of that name or number; the first one's if nothing is said."""
    if typed is None:
        return 0
    word = typed.strip().casefold()
    if len(names) < 2:
        raise InputError.of("at_unit", typed, "is not needed: the job has one pump.", "Leave it out.")
    found = [n for n, name in enumerate(names) if word in (name.casefold(), str(n + 1))]
    if not found and word:
        found = [n for n, name in enumerate(names) if name.casefold().startswith(word)]
    if len(found) != 1:
        known = ", ".join(f'"{name}"' for name in names)
        reason = "is no unit of this job." if not found else "names more than one unit of this job."
        raise InputError.of("at_unit", typed, reason, f"Choose {known}, or a number from 1 to {len(names)}.")
    return found[0]
