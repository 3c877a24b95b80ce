"""How many of one unit another is. pint knows; since it is slow to load, what it says of common words is a table."""

from __future__ import annotations

from functools import cache
from typing import Any

from trackersim.data import rows_of
from trackersim.quantity_text import UnitError

# Units with a zero of their own: (word, unit) -> factor, and what is added then.
_DEGREES = {
    ("degF", "degC"): (5 / 9, -160 / 9),
    ("degC", "degF"): (1.8, 32.0),
    ("K", "degC"): (1.0, -273.15),
    ("kelvin", "degC"): (1.0, -273.15),
}


def in_unit(number: float, word: str, unit: str) -> float:
    """`number` of the unit `word` in `unit`, both in pint's words; "" is a plain number or share.

    Raises `UnitError` for a word that is no unit, or one of another kind.

    >>> in_unit(2.0, "km", "m"), in_unit(3.0, "hm", "m")
    (2000.0, 300.0)
    """
    if word == unit:
        return number
    if (factor := _common().get((word, unit))) is not None:
        return number * factor
    if (word, unit) in _DEGREES:
        factor, added = _DEGREES[word, unit]
        return number * factor + added
    return by_pint(number, word, unit)


@cache
def _common() -> dict[tuple[str, str], float]:
    """(word, unit) -> how many of `unit` one `word` is. Tests ask pint for each."""
    return {(row["word"], row["unit"]): float(row["factor"]) for row in rows_of("common_units.csv")}


def by_pint(number: float, word: str, unit: str) -> float:
    """The same without the table."""
    import pint

    try:
        quantity = _registry().Quantity(number, word)
        if not unit and "percent" not in word and not quantity.unitless:
            raise UnitError(f'has the unit "{word}", but is a plain number or share.')
        return float(quantity.to(unit or "dimensionless").magnitude)
    except UnitError:
        raise
    except pint.DimensionalityError:
        raise UnitError(f'has the unit "{word}", which measures something else than this field.') from None
    except Exception:
        # pint raises errors of many types for malformed units; all mean the same to the reader.
        raise UnitError(f'has the unknown unit "{word}".') from None


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("gpm = gallon / minute")
    registry.define("gph = gallon / hour")
    registry.define("gpd = gallon / day")
    registry.define("lpm = liter / minute")
    return registry
