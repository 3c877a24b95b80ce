"""[rack.thermal]: the passive rack's refrigerant, weight and condition.

No measured parameter set of such racks is published: every default is an assumption that makes a rack behave
as usual. The fields of its condition say how a technician would notice them. Why these numbers:

- lever, liquid, mass, balance: 1.2 m and 6 kg hold 150 kg, 0.04 m below the pivot, to a stop at 50°: tan 50° = 7.2/6;
- pivot friction 3 N·m: 150 kg on a dry journal of 20 mm radius, friction 0.1;
- canister 0.10 by 2.4 m: along the side of a rack of two modules' length; holds the liquid of any refrigerant at 60 °C;
- shell 2 kJ/K: 0.75 m² of aluminium of 1.1 mm, or of steel of 0.7 mm; absorptance 0.85: dark paint that has weathered;
- tube 4.8 mm by 5 m: quarter-inch copper (common practice, no source) from side to side of a rack; it empties a side
  within minutes;
- damper 4 kN·m·s: a side full of liquid turns the rack by 1° a second or less;
- mixing 30 min: between stirred at once and the hours that conduction alone takes (see `rack/thermal.py`). It makes the
  rack wake some 5 min earlier than stirred liquid would.

- shade plates with the sun behind the rack: at dawn it stands some 138° from the normal of a rack that rests in the
  west, where the plates were not made for it. 0.8 of their contrast is a guess; with it a clear 21 March at 36° N over
  an open horizon flips the demo's rack an hour after sunrise, which is what is told of such racks ("almost an hour",
  from memory; no measurement is published). With full contrast it would be 6 minutes sooner;
- plates that pass nothing, canisters dry and seeing the same sky: what is left out until somebody has looked. View and
  dew act on every morning alike: the weather says neither cloud by night nor dew;
- wind torque coefficient 0.15, gusts 1.4 times the mean: see `rack/wind.py`. No source decides between 0.1 and 0.2.

In frost the rack hunts from stop to stop: with these numbers R-134a below about −17 °C, n-butane below about −10 °C. A
tube of 1.5 mm would keep it calm.
"""

from __future__ import annotations

import math

from pydantic import Field, model_validator

from trackersim.job.fields import Angle, Length, Minutes, Number, Section, Share, SquareMetres, refuse
from trackersim.rack.refrigerant import REFRIGERANTS, Refrigerant, RefrigerantName, liquid_density_kg_m3

_WALL_M = 0.0015  # of a canister, for what it holds inside (assumption)
_SHOP_C = 20.0  # liquid that has no room at this temperature cannot have been filled in


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
        description="damper, 1 as built; worn (below 1): wind swings and bangs it; stiff: it crawls after the sun",
    )
    pivot_friction_nm: Number = Field(
        3.0, ge=0, le=500, description="friction in the pivot, N·m; high: it waits, then jumps, and lags all day"
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
    canister_length_m: Length = Field(2.4, ge=0.1, le=6, description="sunlit length", examples=["8 ft"])
    absorptance: Share = Field(0.85, ge=0.05, le=1, description="share of light a canister takes up")
    plate_angle_deg: Angle = Field(25.0, ge=2, le=89, description="sun's offset at which one canister is fully shaded")
    plate_share_behind: Share = Field(
        0.8, ge=0, le=1, description="what shade plates still do with the sun behind the rack, share of what they do"
    )
    plates_pass: Share = Field(
        0.0, ge=0, le=0.9, description="share of the beam that a plate lets through to its shade"
    )
    sky_view_difference: Number = Field(
        0.0, ge=-1, le=1, description="share of the cold sky that the west canister sees more than the east one, −1…1"
    )
    dew: Share = Field(0.0, ge=0, le=1, description="part of the canisters that dew wets every morning, 1 wholly wet")
    diffuse_share: Share = Field(1.0, ge=0, le=2, description="sky light a canister takes up, share of the level sky's")
    tube_bore_m: Length = Field(
        0.0048, ge=0.0005, le=0.05, description="inner diameter of the tube between the canisters", examples=["0.19 in"]
    )
    tube_length_m: Length = Field(5.0, ge=0.5, le=50, description="length of that tube", examples=["16 ft"])
    flow_resistance_pa_s_kg: Number | None = Field(
        None, ge=100, le=1e8, description="of that tube, Pa per kg/s, in place of its bore and length"
    )
    shell_j_k: Number = Field(2000.0, ge=500, le=1e6, description="heat one empty canister holds, J/K")
    mixing_min: Minutes = Field(
        30.0,
        ge=0.02,
        le=1440,
        description="until a canister's liquid is as warm as its wall (assumption); 0: stirred at once, 1440: never",
        examples=["30 min"],
    )
    # Wind
    wind_upset: bool = Field(False, description="true lets wind push the rack as well as cool it")
    wind_area_m2: SquareMetres | None = Field(
        None, gt=0, le=200, description="sail area; default from the array's power at 130 W/m²"
    )
    wind_coefficient: Number = Field(0.15, ge=0, le=1, description="torque coefficient of the plane in wind")
    gust_factor: Number = Field(
        1.4, ge=1, le=3, description="speed of the gusts that turn the rack, over the mean wind"
    )

    @property
    def liquid_now_kg(self) -> float:
        """Liquid that moves, with the charge that is left."""
        return self.liquid_kg * self.charge

    @property
    def damping_now_nms(self) -> float:
        """The damper in its present condition, N·m·s per radian."""
        return self.damping_nms * self.damper

    @property
    def mixing_s(self) -> float:
        """Liquid time constant in seconds."""
        return 60 * self.mixing_min

    @property
    def fluid(self) -> Refrigerant:
        """Properties of the refrigerant."""
        return REFRIGERANTS[self.refrigerant]

    def filled(self, temperature_c: float) -> float:
        """Share of one canister's inside that all the liquid fills at a temperature, gathered there; above 1 too much.

        Liquid swells with warmth; a canister quite full of it bursts.
        """
        liquid_kg = self.liquid_now_kg + self.residual_kg
        bore_m = self.canister_diameter_m - 2 * _WALL_M
        inside_m3 = math.pi / 4 * bore_m**2 * self.canister_length_m
        return liquid_kg / float(liquid_density_kg_m3(self.fluid, temperature_c)) / inside_m3

    @model_validator(mode="after")
    def _fits(self) -> Thermal:
        if (filled := self.filled(_SHOP_C)) > 1:
            raise refuse(
                "liquid_kg",
                f"with residual_kg fills {filled:.1f} times what a canister holds at {_SHOP_C:g} °C: less liquid, or a "
                "larger canister.",
            )
        return self
