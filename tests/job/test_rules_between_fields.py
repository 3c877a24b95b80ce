"""Rules that join fields of a section, or sections of a job: each broken by itself, and told at the field to mend."""

from __future__ import annotations

import pytest

from trackersim.errors import InputError
from trackersim.job.files import load_job

TWELVE = "1 1 1 1 1 1 1 1 1 1 1 1"
CURVE = "pump={curve_flow='0 8 16 gpm', curve_head='200 190 150 ft'%s}"
SHEET = "pump={kind='helical', curve_flow='6 5 4 gpm', curve_head='0 100 200 ft'}"
HELICAL = ("pump.kind=helical", "pump.curve_head=0 100 200 ft", "pump.curve_power=100 300 500 W")

BROKEN: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (("weather.file=", "weather.clear_sky=true", "weather.coldest=3"), "weather.coldest", "together or neither"),
    (
        ("weather.file=", "weather.clear_sky=true", "weather.coldest=3", "weather.warmest=5"),
        "weather.warmest",
        "at least daily_swing",
    ),
    (("trees.1.runs=30",), "trees.1.runs", "only a row"),
    (("trees.1.leaf_on=04-20",), "trees.1.leaf_on", "together or neither"),
    (("rack.flip_threshold=200",), "rack.flip_dose", "is needed"),
    (("rack.flip_dose=200",), "rack.flip_threshold", "is needed"),
    (("rack.fixed_rotation=20", "rack.fixed_tilt=30"), "rack.fixed_rotation", "not both"),
    (("pump.rated_flow=10 gpm",), "pump.rated_flow", "not both"),
    (("pump={}",), "pump.curve_flow", "rated_flow with rated_head"),
    (("pump={rated_flow='9 gpm', rated_head='90 ft', curve_power=[9]}",), "pump.curve_flow", "is missing beside"),
    (("pump={kind='helical', rated_flow='9 gpm', rated_head='90 ft'}",), "pump.curve_flow", "two heads or more"),
    (("pump.curve_head=4000 3990 3980 3970 3960 3000 ft",), "pump.curve_head", "0…1000 m"),
    (("pump.curve_head=0 200 190 180 142 90 ft",), "pump.curve_head", "shut-off head above 0"),
    ((CURVE % "",), "pump.curve_power", "one of the two"),
    (("pump.curve_efficiency=0 20 30 40 40 40 %",), "pump.curve_power", "one of the two"),
    (("pump.curve_power=450 590 720 840 920 W",), "pump.curve_power", "for each flow"),
    (("pump.curve_power=45 59 72 84 92 96 W",), "pump.curve_power", "than the water itself gains"),
    ((CURVE % ", curve_efficiency='0 20 %'",), "pump.curve_efficiency", "for each flow"),
    ((CURVE % ", curve_efficiency='0 20 1 %'",), "pump.curve_efficiency", "above 1 %"),
    ((*HELICAL, "pump.curve_flow=4 gpm", "pump.curve_head=9 ft"), "pump.curve_flow", "2 to 60"),
    ((*HELICAL, "pump.curve_flow=4 5 6 gpm"), "pump.curve_flow", "not rise with head"),
    ((SHEET,), "pump.curve_power", "for a helical pump"),
    ((f"source.inflow_by_month={TWELVE.replace('1', '-1', 1)} m**3/day",), "source.inflow_by_month", "not be negative"),
    (("source.kind=sump", "source.volume=3", "source.inflow=9", "source.restart=5 %", "source.low_stop=20 %"),
     "source.restart", "above low_stop"),
    (("store.area=20",), "store.area", "together or neither"),
    (("store.area=20", f"store.evaporation_by_month={TWELVE} mm"), "store.area", "only a pond"),
    (("unit=[{name='a'}, {name='b'}]",), "main", "is missing"),
    (("option=[{name='a', ready='repair-rack', set={rack={lag=1}}}]",), "option.0.set", "set or ready"),
    (("option=[{name='a', set={money={years=9}}}]",), "option.0.set", "not its options"),
    (("option=[{name='a', hold_flow='9 gpm'}]",), "option.0.hold_flow", "hold-flow"),
    (("option=[{set={rack={lag=1}}}]",), "option.0.name", "is missing"),
    (("money.price_of_water=6 per 0 gal",), "money.price_of_water", "no water"),
    (("source.lift=1/0 ft",), "source.lift", "fraction of nothing"),
    (("site.name=" + "x" * 100_000,), "override", "too long"),
)  # fmt: skip


@pytest.mark.parametrize(("overrides", "field", "words"), BROKEN)
def test_a_broken_rule_is_told_once_at_the_field_to_mend(overrides: tuple[str, ...], field: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        load_job("demo", overrides)
    (fault,) = caught.value.faults
    assert fault.field == field
    assert words in fault.reason
    assert fault.remedy
