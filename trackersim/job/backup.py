"""[backup]: the grid or a generator that drives the pumps when the sun does not."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from trackersim.job.fields import Hours, Number, Section, Watts, refuse


class BackupPower(Section):
    """A second source of power behind a change-over switch: the pumps run on the sun or on it, never on both."""

    kind: Literal["grid", "generator"] = Field("grid", description='"grid" or "generator"')
    when: Literal["every", "dull"] = Field(
        "every",
        description='"every" day through its window, or "dull": from the beginning of the window that follows a day on '
        "which the sun lifted less than is wanted, until that is made good; beside a store that is followed, when that "
        "holds less than the next day's want above its reserve, until it does",
    )
    begins_h: Hours = Field(20.0, ge=0, lt=24, description="hour, standard time, at which its window begins")
    ends_h: Hours = Field(6.0, ge=0, le=24, description="hour at which it ends; before begins: on the next morning")
    power_w: Watts | None = Field(
        None,
        gt=0,
        le=100_000,
        description="what it gives at each controller's input; default: what the controller's rating takes",
        examples=["1200 W"],
    )
    price_per_kwh: Number | None = Field(
        None, ge=0, le=1e4, description="money per kWh, of a generator its fuel; none: not known", examples=[0.18]
    )

    @model_validator(mode="after")
    def _some_window(self) -> BackupPower:
        if self.begins_h == self.ends_h:
            raise refuse("ends", "must differ from begins: 0 and 24 stand for the whole day.")
        return self

    @property
    def window_min(self) -> int:
        """Length of its window in whole minutes, through midnight if need be."""
        return round((self.ends_h - self.begins_h) % 24 * 60) or 1440
