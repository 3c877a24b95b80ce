"""[array]: modules, described by the label of one of them or by their class, and how they are strung."""

from __future__ import annotations

from functools import cache
from typing import Any

from pydantic import Field, model_validator

from trackersim.data import rows_of
from trackersim.job.fields import Amperes, Count, Number, Section, Share, Volts, refuse
from trackersim.job.layout import LaidOut, Layout

# Power falls so much faster with warmth than Voc: median of the 20,941 crystalline modules in the library of the
# California Energy Commission (2019, as shipped with pvlib) is 0.117 %/K, 5 to 95 % of them 0.06 to 0.154.
_POWER_BESIDE_VOC_PER_K = -0.0012
# Common practice, no source: two diodes on modules of up to 40 cells, three on larger ones.
_FEW_CELLS = 40
_LABEL = ("cells", "vmp", "imp", "voc", "isc", "isc_per_k", "voc_per_k")


@cache
def module_classes() -> dict[str, dict[str, str]]:
    """Generic modules by class name, as the bundled table has them (invented round values)."""
    return {row["class"]: row for row in rows_of("module_classes.csv")}


class Array(Section):
    """Modules and strings."""

    in_series: Count = Field(1, ge=1, le=60, description="modules in one string")
    in_parallel: Count = Field(1, ge=1, le=200, description="strings side by side")
    module_class: str = Field(
        "", description="generic module instead of a label that is gone", examples=["2000s-120W-36"]
    )
    cells: Count = Field(36, ge=4, le=300, description="cells in series in one module")
    vmp_v: Volts = Field(gt=0, le=300, description="label: voltage at maximum power", examples=["17.6 V"])
    imp_a: Amperes = Field(gt=0, le=40, description="label: current at maximum power", examples=["6.8 A"])
    voc_v: Volts = Field(gt=0, le=400, description="label: open-circuit voltage", examples=["22 V"])
    isc_a: Amperes = Field(gt=0, le=45, description="label: short-circuit current", examples=["7.4 A"])
    isc_per_k: Share = Field(
        0.0005, ge=-0.002, le=0.003, description="label: Isc change per kelvin", examples=["0.05 %"]
    )
    voc_per_k: Share = Field(
        -0.0033, ge=-0.008, le=-0.0005, description="label: Voc change per kelvin", examples=["-0.33 %"]
    )
    power_per_k: Share | None = Field(
        None,
        ge=-0.008,
        le=-0.001,
        description="label: power change per kelvin; default: 0.12 % more than Voc's, as silicon modules have it",
        examples=["-0.45 %"],
    )
    bypass_diodes: Count | None = Field(
        None, ge=0, le=12, description="in one module; default: 2 up to 40 cells, 3 above", examples=[2]
    )
    age_years: Number = Field(0.0, ge=0, le=60, description="years in the sun", examples=[12])
    loss_per_year: Share = Field(0.006, ge=0, le=0.05, description="power lost per year of age", examples=["0.6 %"])
    soiling: Share = Field(0.03, ge=0, le=0.9, description="light lost to dirt", examples=["3 %"])
    soiling_per_day: Share | None = Field(
        None,
        ge=0,
        le=0.05,
        description="dirt settling each dry day, washed off by rain, instead of soiling; needs weather with rain",
        examples=["0.1 %"],
    )
    mismatch: Share = Field(0.02, ge=0, le=0.5, description="power lost to unequal modules", examples=["2 %"])
    faiman_u0: Number = Field(25.0, ge=5, le=60, description="heat loss factor, W/m²K (Faiman)")
    faiman_u1: Number = Field(6.84, ge=0, le=20, description="heat loss factor with wind, W/m²K per m/s (Faiman)")
    layout: Layout = Field(default_factory=Layout, description="how the modules lie on the rack")

    @model_validator(mode="before")
    @classmethod
    def _label_of_class(cls, data: Any) -> Any:
        """Fill what the job leaves out of the label from the module's class."""
        name = data.get("module_class") if isinstance(data, dict) else None
        if not name or not isinstance(name, str):
            return data
        row = module_classes().get(name.strip())
        if row is None:
            raise refuse("module_class", f"is no class on file ({', '.join(module_classes())}).")
        known: dict[str, Any] = {
            key: float(row[key]) for key in _LABEL if not any(given in data for given in (key, f"{key}_v", f"{key}_a"))
        }
        sizes = {"module_width": f"{row['short_side']} m", "module_height": f"{row['long_side']} m"}
        layout = data.get("layout", {})
        if isinstance(layout, dict) and not any(key.startswith("module_") for key in layout):
            known["layout"] = {**layout, **sizes}
        return {**data, **known, "cells": data.get("cells", int(row["cells"]))}

    @model_validator(mode="after")
    def _label_order(self) -> Array:
        if not self.vmp_v < self.voc_v or not self.imp_a < self.isc_a:
            raise refuse("vmp", "a label has vmp below voc and imp below isc.")
        if not 0.45 < self.vmp_v * self.imp_a / (self.voc_v * self.isc_a) < 0.90:
            raise refuse("vmp", "vmp·imp/(voc·isc) is no module's (0.45 to 0.90): check the label.")
        if not 0.4 < self.voc_v / self.cells < 0.85:
            raise refuse("voc", "voc per cell is no silicon cell's (0.4 to 0.85 V): check cells and voc.")
        if why := self.layout.fault(self.module_count):
            raise refuse("layout", why)
        return self

    @property
    def module_count(self) -> int:
        """Modules in all."""
        return self.in_series * self.in_parallel

    @property
    def rated_w(self) -> float:
        """Power of all modules by their labels, new, at 1000 W/m² and 25 °C."""
        return self.module_count * self.vmp_v * self.imp_a

    @property
    def power_change_per_k(self) -> float:
        """Change of power per kelvin: as given, else typical for silicon whose Voc changes so."""
        usual = self.voc_per_k + _POWER_BESIDE_VOC_PER_K
        return usual if self.power_per_k is None else self.power_per_k

    @property
    def age_share(self) -> float:
        """Share of the label power left after age: the yearly loss compounded."""
        return float((1 - self.loss_per_year) ** self.age_years)

    @property
    def power_share(self) -> float:
        """Share of its new power that a module gives: age and mismatch, both taken from the current."""
        return self.age_share * (1 - self.mismatch)

    @property
    def current_a(self) -> float:
        """Current of all strings at maximum power, 1000 W/m² and 25 °C, after age and mismatch."""
        return self.imp_a * self.in_parallel * self.power_share

    @property
    def area_m2(self) -> float:
        """Area of all modules."""
        out = self.laid_out
        return self.module_count * out.module_width_m * out.module_height_m

    @property
    def diodes(self) -> int:
        """Bypass diodes in one module: as given, else by its cells."""
        usual = 2 if self.cells <= _FEW_CELLS else 3
        return usual if self.bypass_diodes is None else self.bypass_diodes

    @property
    def laid_out(self) -> LaidOut:
        """Its layout with nothing left open."""
        return self.layout.laid_out(self.module_count, self.vmp_v * self.imp_a)
