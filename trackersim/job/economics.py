"""[[option]] and [money]: what could be done about the site, what it costs, and how money is counted.

Neither changes what a simulation of the job gives.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from trackersim.job.fields import Count, Flow, Number, Section, Share, refuse
from trackersim.quantity_reading import UnitError, read_quantity
from trackersim.quantity_text import MOST_LETTERS

# Options that `trackersim options` makes up by itself; an [[option]] may give one of them its cost by this name.
ReadyName = Literal[
    "repair-rack",
    "driven-tracker",
    "lock-best-tilt",
    "two-tilts",
    "four-tilts",
    "early-light-aid",
    "fell-best-tree",
    "trim-best-tree",
    "fell-all-trees",
    "move-rack",
    "longer-strings",
    "one-more-string",
    "larger-wire",
    "clean-pipe",
    "new-pipe",
    "larger-collecting-tank",
    "larger-tank",
    "other-floats",
    "other-start-power",
    "hold-flow",
    "throttle",
    "grid-at-night",
    "generator-on-dull-days",
]


def _read_price(value: object) -> float:
    """A price of water as money per m³: a number, or text like "6 per 1000 gal"."""
    money, per, each = _parted(value) if isinstance(value, str) else ("", "", "")
    try:
        if not per and isinstance(value, str):
            raise UnitError("does not say for how much water.")
        if not per:
            return read_quantity(value, "")
        volume = each if each[0].isdigit() else f"1 {each}"
        return read_quantity(money, "") / _above_zero(read_quantity(volume, "m**3", unit_needed=True))
    except UnitError as error:
        raise ValueError(
            f'{str(error).rstrip(".")}; a price is a number per m³ or text like "6 per 1000 gal".'
        ) from None


def _parted(text: str) -> tuple[str, str, str]:
    """ "6 per 1000 gal" as "6", "per", "1000 gal"; text without a "per", or too long to be a price, as it is."""
    words = text.split() if len(text) <= MOST_LETTERS else []
    if "per" not in words[1:-1]:
        return text, "", ""
    place = words.index("per")
    return " ".join(words[:place]), "per", " ".join(words[place + 1 :])


def _above_zero(volume_m3: float) -> float:
    if not volume_m3 > 0:
        raise UnitError("is a price of no water.")
    return volume_m3


def flattened(data: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    """Nested tables as dotted keys: TOML reads `rack.kind = "fixed"` as a table in a table.

    >>> flattened({"rack": {"kind": "fixed"}, "trees": []})
    {'rack.kind': 'fixed', 'trees': []}
    """
    flat: dict[str, Any] = {}
    for key, value in data.items():
        place = f"{before}.{key}" if before else str(key)
        if isinstance(value, Mapping) and value:
            flat |= flattened(value, place)
        else:
            flat[place] = value
    return flat


def _read_set(value: object) -> object:
    return flattened(value) if isinstance(value, Mapping) else value


WaterPrice = Annotated[float, BeforeValidator(_read_price)]
Overrides = Annotated[dict[str, Any], BeforeValidator(_read_set)]


class Option(Section):
    """One thing that could be done: fields of the job that it changes, or the name of a ready-made option; its cost."""

    name: str = Field("", description="what you call it", examples=["cut the oaks"])
    ready: ReadyName | None = Field(
        None, description="a ready-made option that these costs belong to, instead of set", examples=["fell-best-tree"]
    )
    set: Overrides = Field(
        default_factory=dict,
        description="fields of the job that it changes",
        examples=[{"wire.0.gauge": "6 AWG"}],
    )
    cost: Number | None = Field(None, ge=0, le=1e9, description="money now; none: not known", examples=[800])
    cost_per_year: Number = Field(
        0.0, ge=-1e9, le=1e9, description="money a year more than today (below 0: less)", examples=[50]
    )
    life_years: Number | None = Field(
        None, gt=0, le=200, description="years until it must be bought again; none: it lasts", examples=[15]
    )
    hold_flow_m3_s: Flow | None = Field(
        None, gt=0, le=1, description="hold-flow and throttle: the most that may flow", examples=["31 gpm"]
    )

    @model_validator(mode="after")
    def _one_or_the_other(self) -> Option:
        if self.ready is not None and self.set:
            raise refuse("set", "give set or ready, not both: a ready-made option brings its own changes.")
        if any(key.split(".")[0] in ("option", "money") for key in self.set):
            raise refuse("set", "changes the job, not its options or how money is counted.")
        if self.hold_flow_m3_s is not None and self.ready not in ("hold-flow", "throttle"):
            raise refuse("hold_flow", 'goes with ready = "hold-flow" or ready = "throttle".')
        if not self.name and self.ready is None:
            raise refuse("name", "is missing: an option needs a name to be told by.")
        return self


class Money(Section):
    """How money is counted when options are held against each other."""

    rate: Share = Field(0.05, ge=0, le=0.5, description="interest a year, without inflation", examples=["5 %"])
    horizon_years: Count = Field(20, ge=1, le=100, description="years looked ahead", examples=[20])
    price_of_water: WaterPrice | None = Field(
        None,
        ge=0,
        le=1e6,
        description="what water is worth: money per m³, or per a volume",
        examples=["6 per 1000 gal"],
    )
    currency: str = Field("$", min_length=1, max_length=5, description="sign before amounts", examples=["$"])
