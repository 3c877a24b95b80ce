"""[pipes]: the pipe from pump to outlet, in one piece or in several."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, field_validator, model_validator

from trackersim.job.fields import Length, Number, OneOrMany, Pressure, Section, refuse, text_of

# Inside diameters [m] of Schedule 40 by nominal size in inches (ASTM D1785, outside less twice the minimum wall; from
# 1¼ in checked against its printed table, the smaller ones and 2½ in from memory).
NOMINAL_BORE_M: dict[str, float] = {
    "1/2": 0.01580, "3/4": 0.02093, "1": 0.02664, "1-1/4": 0.03505, "1-1/2": 0.04089, "2": 0.05250, "2-1/2": 0.06271,
    "3": 0.07793, "4": 0.10226, "6": 0.15405,
}  # fmt: skip
# Hazen–Williams C when new, lost per year, and least; absolute roughness [m] when new, gained per year. New values as
# printed in handbooks (EPANET 2.2 User Manual, table of roughness coefficients); ageing common practice, no source.
_AGEING: dict[str, tuple[float, float, float, float, float]] = {
    "plastic": (150, 0.3, 135, 1.5e-6, 5e-7),
    "copper": (140, 0.3, 120, 1.5e-6, 1e-6),
    "galvanized": (120, 1.5, 60, 1.5e-4, 4e-5),
    "steel": (140, 1.8, 60, 4.6e-5, 4e-5),
    "cast iron": (130, 1.5, 60, 2.6e-4, 4e-5),
}
_USUAL_C = 140.0


class Pipe(Section):
    """One stretch of pipe of one size."""

    name: str = Field("", description="what you call it", examples=["riser"])
    length_m: Length = Field(ge=0, le=20_000, description="from pump to outlet", examples=["600 ft"])
    bore_m: Length | None = Field(None, gt=0.004, le=2, description="inside diameter", examples=["1.25 in"])
    nominal: str = Field("", description="nominal size in inches, Schedule 40, instead of bore", examples=["1-1/4"])
    material: Literal["", "plastic", "copper", "galvanized", "steel", "cast iron"] = Field(
        "", description='"plastic", "copper", "galvanized", "steel" or "cast iron"; sets c_value from its age'
    )
    age_years: Number = Field(0.0, ge=0, le=100, description="years in the ground", examples=[15])
    c_value: Number | None = Field(
        None, ge=40, le=160, description="Hazen–Williams C: 150 new plastic, 140 old, 100 old steel", examples=[140]
    )
    scale_m: Length = Field(0.0, ge=0, le=0.2, description="thickness of build-up on the wall", examples=["0.05 in"])
    fittings: Number = Field(
        0.0, ge=0, le=300, description="sum of the fittings' loss factors K (velocity heads)", examples=[6]
    )
    rating_kpa: Pressure | None = Field(
        None, gt=0, le=20_000, description="pressure rating printed on it", examples=["160 psi"]
    )

    @field_validator("nominal", mode="before")
    @classmethod
    def _known_size(cls, value: object) -> str:
        text = "-".join(text_of(value).replace('"', "").replace("inches", "").replace("in", "").strip(". ").split())
        if text and text not in NOMINAL_BORE_M:
            raise ValueError(f"is not a nominal size on file ({', '.join(NOMINAL_BORE_M)}).")
        return text

    @model_validator(mode="after")
    def _one_size(self) -> Pipe:
        if (self.bore_m is None) == (not self.nominal):
            raise refuse("bore", "give bore or nominal, one of the two.")
        if self.inside_m < 0.004:
            raise refuse("scale", "leaves no way for the water.")
        return self

    @property
    def inside_m(self) -> float:
        """Inside diameter that build-up has left."""
        return (self.bore_m or NOMINAL_BORE_M[self.nominal]) - 2 * self.scale_m

    @property
    def c_now(self) -> float:
        """Hazen–Williams C today: as given, else by material and age."""
        if self.c_value is not None:
            return self.c_value
        if not self.material:
            return _USUAL_C
        new, yearly, least, _, _ = _AGEING[self.material]
        return max(new - yearly * self.age_years, least)

    @property
    def roughness_m(self) -> float:
        """Absolute roughness today, for Darcy–Weisbach: by material and age; plastic where none is named."""
        _, _, _, new, yearly = _AGEING[self.material or "plastic"]
        return new + yearly * self.age_years


def _some_pipe(value: tuple[Pipe, ...]) -> tuple[Pipe, ...]:
    if not value:
        raise ValueError("needs at least one stretch; a pump at the outlet has one of length 0.")
    return value


Pipes = Annotated[tuple[Pipe, ...], OneOrMany, AfterValidator(_some_pipe)]
