"""[array.layout]: how the modules lie on the rack, for shade that crosses it module by module."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from pydantic import Field, model_validator

from trackersim.job.fields import Count, Length, Section, refuse

# For modules whose size is not given: power per area of an older module, and a common shape (assumptions).
_MODULE_W_M2 = 130.0
_LONG_OVER_SHORT = 1.7


@dataclass(frozen=True, kw_only=True)
class LaidOut:
    """The layout with nothing left open. Rows follow each other along the axis, columns across it."""

    rows: int
    columns: int
    module_width_m: float
    module_height_m: float
    gap_across_m: float
    gap_along_m: float
    above_axis_m: float
    strung_by: Literal["rows", "columns"]
    assumed: bool

    @property
    def width_m(self) -> float:
        """Across the rack, edge to edge."""
        return self.columns * (self.module_width_m + self.gap_across_m) - self.gap_across_m

    @property
    def height_m(self) -> float:
        """Along the axis, edge to edge."""
        return self.rows * (self.module_height_m + self.gap_along_m) - self.gap_along_m

    @property
    def radius_m(self) -> float:
        """From the middle of the axis to a corner."""
        return math.sqrt((self.width_m / 2) ** 2 + (self.height_m / 2) ** 2 + self.above_axis_m**2)


class Layout(Section):
    """Rows and columns of modules on the rack's plane, turning with it."""

    rows: Count | None = Field(None, ge=1, le=200, description="modules along the axis (north to south)", examples=[2])
    columns: Count | None = Field(None, ge=1, le=200, description="modules across it (east to west)", examples=[4])
    module_width_m: Length | None = Field(
        None, gt=0.05, le=5, description="one module, across the axis", examples=["26 in"]
    )
    module_height_m: Length | None = Field(
        None, gt=0.05, le=5, description="one module, along the axis", examples=["47 in"]
    )
    gap_across_m: Length = Field(0.02, ge=-5, le=10, description="between modules across the axis", examples=["1 in"])
    gap_along_m: Length = Field(0.02, ge=-5, le=10, description="between modules along the axis", examples=["1 in"])
    above_axis_m: Length = Field(
        0.15, ge=-1, le=3, description="module plane above the axis it turns on", examples=["6 in"]
    )
    strung_by: Literal["rows", "columns"] = Field(
        "rows", description='modules of a string follow each other along "rows" or down "columns"'
    )

    @model_validator(mode="after")
    def _no_overlap(self) -> Layout:
        for name, gap in (("gap_across", self.gap_across_m), ("gap_along", self.gap_along_m)):
            if gap < 0:
                raise refuse(name, "below 0 lays each module over its neighbour.")
        if (self.module_width_m is None) != (self.module_height_m is None):
            raise refuse("module_width", "give module_width and module_height together or neither.")
        return self

    def fault(self, count: int) -> str:
        """Why `count` modules do not fit this layout; empty if they do."""
        if self.rows is not None and self.columns is not None and self.rows * self.columns != count:
            return f"has {self.rows} × {self.columns} places for {count} modules."
        for number, name in ((self.rows, "rows"), (self.columns, "columns")):
            if number is not None and count % number:
                return f"cannot put {count} modules in {number} {name} of equal length."
        return ""

    def laid_out(self, count: int, module_w: float) -> LaidOut:
        """The layout of `count` modules of `module_w` watts, with what was left open filled by assumption."""
        width, height = self.module_width_m, self.module_height_m
        if width is None or height is None:
            width = math.sqrt(module_w / _MODULE_W_M2 / _LONG_OVER_SHORT)
            height = width * _LONG_OVER_SHORT
        columns = self.columns or (count // self.rows if self.rows else _squarest(count, width, height))
        return LaidOut(
            rows=count // columns,
            columns=columns,
            module_width_m=width,
            module_height_m=height,
            gap_across_m=self.gap_across_m,
            gap_along_m=self.gap_along_m,
            above_axis_m=self.above_axis_m,
            strung_by=self.strung_by,
            assumed=self.module_width_m is None or (self.rows is None and self.columns is None),
        )


def _squarest(count: int, width_m: float, height_m: float) -> int:
    """Columns that make the array as broad as it is high, as near as whole rows allow."""
    ways = [columns for columns in range(1, count + 1) if count % columns == 0]
    return min(ways, key=lambda columns: abs(math.log(columns**2 * width_m / (count * height_m))))
