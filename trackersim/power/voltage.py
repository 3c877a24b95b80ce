"""The array's open-circuit voltage on a cold morning, against what the controller bears."""

from __future__ import annotations

from typing import Literal

from trackersim.job.array import Array

VoltageVerdict = Literal["within", "close", "over"]

# No air where people live has been as cold: Verkhoyansk and Oymyakon −68 °C (WMO's extremes, recalled from memory).
_COLDEST_AIR_C = -70.0
_REFERENCE_C = 25.0
# Within this share of the limit a colder night than assumed, or a meter's error, would be over it (assumption).
_CLOSE_SHARE = 0.95


def cold_open_circuit_v(array: Array, coldest_c: float) -> float:
    """Open-circuit voltage of a string of new modules in the first light of a cold morning, before the cells warm.

    Voc of the label times (1 + coefficient · (T − 25 °C)), the way NEC 690.7(A) allows with the maker's coefficient.

    Parameters
    ----------
    array : Array
        The label's open-circuit voltage and its change with warmth, and the modules in one string, are read.
    coldest_c : float
        Temperature of the cells [°C].

    Returns
    -------
    float
        Voltage [V].
    """
    return array.in_series * array.voc_v * (1 + array.voc_per_k * (coldest_c - _REFERENCE_C))


def air_at_voltage_c(array: Array, voltage_v: float) -> float:
    """Temperature of the cells at which a string has an open-circuit voltage; colder, that is higher.

    The inverse of `cold_open_circuit_v`, whose formula and source it shares.

    Parameters
    ----------
    array : Array
        The same of it is read.
    voltage_v : float
        Voltage of the string [V].

    Returns
    -------
    float
        Temperature [°C].
    """
    return _REFERENCE_C + (voltage_v / (array.in_series * array.voc_v) - 1) / array.voc_per_k


def lacks_record_low(coldest_c: float | None, limit_c: float) -> bool:
    """Whether no record low is given although air that people live in could put the array above the limit.

    Parameters
    ----------
    coldest_c : float or None
        Coldest air on record at the site [°C], None where it is not given.
    limit_c : float
        Air at which the array reaches the controller's limit [°C], from `air_at_voltage_c`.

    Returns
    -------
    bool
        True where it must be asked for.
    """
    return coldest_c is None and limit_c > _COLDEST_AIR_C


def voltage_verdict(voltage_v: float, *, max_v: float) -> VoltageVerdict:
    """Over: above the controller's largest voltage; close: within 5 % of it; else within.

    Parameters
    ----------
    voltage_v : float
        Cold open-circuit voltage of a string [V].
    max_v : float
        Largest voltage that the controller bears [V].

    Returns
    -------
    VoltageVerdict
        One of the three words.
    """
    if voltage_v > max_v:
        return "over"
    return "close" if voltage_v > _CLOSE_SHARE * max_v else "within"
