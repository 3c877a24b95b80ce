"""[rack.thermal]: the passive rack's refrigerant, weight and condition.

No measured parameter set of such racks is published: every default is an assumption that gives a rack its usual
manners. The fields of its condition say how a technician would notice them.
"""

from __future__ import annotations

from pydantic import Field

from trackersim.job.fields import Angle, Length, Number, Section, Share, SquareMetres
from trackersim.rack.refrigerant import RefrigerantName


class Thermal(Section):
    """Canisters, weight and condition of a rack that turns by itself."""

    # Its condition
    charge: Share = Field(
        1.0,
        ge=0,
        le=1.2,
        description="refrigerant left, share of new; low: it no longer reaches its stops, in the end it hangs level",
    )
    shade_plates: Share = Field(
        1.0,
        ge=0,
        le=1,
        description="shade plates: 1 as built, 0 lost; bent: it turns late, wanders, and stops short of the sun",
    )
    damper: Number = Field(
        1.0,
        ge=0.05,
        le=200,
        description="damper, 1 as built; worn (below 1): the rack swings and bangs; stiff: it crawls after the sun",
    )
    pivot_friction_nm: Number = Field(
        2.0, ge=0, le=500, description="friction in the pivot, N·m; high: it waits, then jumps, and lags all day"
    )
    balance_m: Length = Field(
        0.04,
        ge=-0.2,
        le=0.5,
        description="centre of gravity below the pivot; under 0 it flops from stop to stop, far under it leaves none",
        examples=["0.04 m"],
    )
    stuck: bool = Field(False, description="true if it does not move at all by hand or sun: seized or tied")
    stuck_at_deg: Angle = Field(50.0, ge=-85, le=85, description="where it is stuck, west positive")
    # Its make
    refrigerant: RefrigerantName = Field("R-134a", description="what its label says is inside")
    moving_mass_kg: Number = Field(150.0, ge=5, le=5000, description="mass that turns: frame and modules")
    lever_m: Length = Field(1.2, ge=0, le=6, description="from the axis to a canister", examples=["4 ft"])
    liquid_kg: Number = Field(6.0, ge=0, le=500, description="liquid that moves, as new")
    residual_kg: Number = Field(0.5, ge=0.1, le=100, description="liquid that stays in each canister")
    damping_nms: Number = Field(4000.0, ge=50, le=1_000_000, description="the damper as built, N·m·s per radian")
    canister_diameter_m: Length = Field(0.10, ge=0.02, le=1, description="outside", examples=["4 in"])
    canister_length_m: Length = Field(1.5, ge=0.1, le=6, description="sunlit length", examples=["5 ft"])
    absorptance: Share = Field(0.9, ge=0.05, le=1, description="share of light a canister takes up")
    plate_angle_deg: Angle = Field(25.0, ge=2, le=89, description="sun's offset at which one canister is fully shaded")
    diffuse_share: Share = Field(1.0, ge=0, le=2, description="sky light a canister takes up, share of the level sky's")
    flow_resistance_pa_s_kg: Number = Field(2e4, ge=100, le=1e8, description="of the tube between, Pa per kg/s")
    shell_j_k: Number = Field(2000.0, ge=500, le=1e6, description="heat one empty canister holds, J/K")
    # Wind
    wind_upset: bool = Field(False, description="true lets wind push the rack as well as cool it")
    wind_area_m2: SquareMetres | None = Field(
        None, gt=0, le=200, description="sail area; default from the array's power at 130 W/m²"
    )
    wind_coefficient: Number = Field(0.05, ge=0, le=1, description="torque coefficient of the plane in wind")
