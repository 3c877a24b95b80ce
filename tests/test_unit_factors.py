"""The table of common words of units says what pint says, and changes nothing of what is read or refused.

`python tests/test_unit_factors.py` writes the factors of the table anew, as the pint at hand gives them.
"""

from __future__ import annotations

import csv
from importlib import resources
from itertools import product
from pathlib import Path

import pytest

from trackersim import quantity_reading, unit_factors, units
from trackersim.quantity_reading import SUFFIX_UNITS, UnitError
from trackersim.quantity_writing import written

TABLE = resources.files("trackersim.data").joinpath("common_units.csv")
UNITS = ("", "delta_degC", *SUFFIX_UNITS.values())
# Words that the table lacks: other ways to write its units, other units, and what is none.
OTHERS = (
    "Ft", "FEET", "ft.", "'", '"', "ft2", "m³", "GPM", "Gal", "gal a day", "gal/d", "US_gallon", "imperial_gallon",
    "acre*ft", "cuft", "m^3/h", "ML/day", "dm", "µm", "furlong", "kilofoot", "hr", "Hour", "week", "year", "knot",
    "m/s**2", "Psi", "psig", "atm", "inHg", "ftH2O", "kgf", "N", "KW", "kw", "MW", "horsepower", "hP", "kV", "mA",
    "Ah", "VA", "rad", "turn", "°", "percent", "%", "%/K", "ppm", "dozen", "F", "f", "°F", "degrees Fahrenheit", "C",
    "celsius", "K", "kelvin", "degR", "rankine", "cmil", "AWG", "sq mm", "sq ft", "langley", "ton", "stone", "oz",
    "Ω/km", "ohm/kft", "m*m/m", "m/m", "1", "m/0", "m*", "flurb", "a b", "π",
)  # fmt: skip


def rows() -> list[dict[str, str]]:
    return list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))


def told(number: float, word: str, unit: str) -> float | str:
    """What a number and a word are read as, or why they are refused."""
    try:
        return quantity_reading._converted.__wrapped__(number, word, unit)
    except UnitError as error:
        return str(error)


def test_every_factor_is_that_of_pint() -> None:
    for row in rows():
        found = unit_factors.by_pint(1.0, row["word"], row["unit"])
        assert float(row["factor"]) == pytest.approx(found, rel=1e-15), row


@pytest.mark.parametrize("number", [0.0, 1.0, -40.0, 137.3, 1e-9])
def test_degrees_are_those_of_pint(number: float) -> None:
    for word, unit in unit_factors._DEGREES:
        assert unit_factors.in_unit(number, word, unit) == pytest.approx(
            unit_factors.by_pint(number, word, unit), rel=1e-12, abs=1e-12
        )


def test_the_table_changes_nothing_of_what_is_read_or_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    words = sorted({row["word"] for row in rows()} | {*OTHERS, *UNITS} - {""})
    asked = [(12.7, word, unit) for word, unit in product(words, UNITS)]
    with_table = [told(*each) for each in asked]
    monkeypatch.setattr(units, "in_unit", unit_factors.by_pint)
    without = [told(*each) for each in asked]
    assert sum(isinstance(found, float) for found in without) > 350
    for each, found, expected in zip(asked, with_table, without, strict=True):
        wanted = expected if isinstance(expected, str) else pytest.approx(expected, rel=1e-13, abs=1e-12)
        assert found == wanted, each


def test_what_is_shown_and_written_needs_no_pint(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(number: float, word: str, unit: str) -> float:
        raise AssertionError(f"{word} in {unit} is not in the table")

    monkeypatch.setattr(unit_factors, "by_pint", none)
    for kind, system in product(units._KINDS, ("us", "si")):
        units._linear.__wrapped__(kind, system)
        for suffix in SUFFIX_UNITS:
            written(2.5, f"field{suffix}", system)


if __name__ == "__main__":
    lines = [f"{row['unit']},{row['word']},{unit_factors.by_pint(1.0, row['word'], row['unit'])!r}\n" for row in rows()]
    Path(str(TABLE)).write_text("".join(["unit,word,factor\n", *lines]), encoding="utf-8")
