"""The card to leave with the owner."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import imread

from trackersim import load_job
from trackersim.analysis.day_ahead import Tomorrow, card_for
from trackersim.clock import today_at
from trackersim.errors import InputError
from trackersim.report.day_ahead import call_words, card_figure, card_sentence, card_text, hour_rows, last_words
from trackersim.units import held_value

JOB = load_job("demo")
SPRING = dt.date(2025, 3, 21)


@pytest.fixture(scope="module")
def card() -> Tomorrow:
    return card_for(JOB, SPRING)


def test_the_morning_comes_in_order(card: Tomorrow) -> None:
    moments = [card.sunrise, card.full_sun, card.water.likely, card.sunset]
    assert moments == sorted(moments, key=lambda minute: minute or 0)
    assert card.flip.early < card.flip.likely < card.flip.late  # type: ignore[operator]
    assert card.flip.likely < card.arrival.likely  # type: ignore[operator]
    assert card.call_flip == (card.flip.late or 0) + 30


def test_hours_add_up_to_the_day(card: Tomorrow) -> None:
    for day in card.days.values():
        assert sum(flow for _, flow in day.hours) * 3600 == pytest.approx(day.total_m3, rel=1e-9)
    assert len({hour for hour, _ in card.days["clear"].hours}) == len(card.days["clear"].hours)


def test_light_cloud_brings_less_and_still_something(card: Tomorrow) -> None:
    clear, cloudy = (card.days[sky].total_m3 for sky in ("clear", "light cloud"))
    assert 0.2 * clear < cloudy < 0.9 * clear


def test_hours_are_those_of_the_wall_with_daylight_saving() -> None:
    told = {zone: card_for(load_job("demo", [f"site.timezone={zone}"]), SPRING) for zone in ("America/New_York", "")}
    summer, standard = (dict(one.days["clear"].hours) for one in told.values())
    assert summer[13] == pytest.approx(standard[12], rel=1e-9)
    assert "EDT" in told["America/New_York"].zone
    assert told[""].zone.startswith("standard time")


def test_the_words_say_when_to_call_and_end_with_one_sentence(card: Tomorrow) -> None:
    text = card_text(card, "us")
    for line in call_words(card, "us"):
        assert line.split()[0].startswith("Call")
    latest = card.clock(card.call_flip)
    assert latest is not None
    assert f"{latest:%H:%M}" in text
    assert "swing without warning" in text
    assert "pressure" in text
    assert text.rstrip().split("\n\n")[-1].startswith("In short:")
    assert last_words(card).count(".") == 1


def test_rows_are_in_the_units_asked_for(card: Tomorrow) -> None:
    us, si = (hour_rows(card, system) for system in ("us", "si"))
    assert us[-1][1].endswith("gal")
    assert si[-1][1].endswith("m³")
    noon = next(row for row in us if row[0].startswith("13:00"))
    assert held_value(float(noon[1]), "flow", "us") == pytest.approx(dict(card.days["clear"].hours)[13], rel=0.01)


def test_a_fixed_rack_has_no_turn_to_call_about() -> None:
    card = card_for(load_job("demo", ["rack.kind=fixed"]), SPRING)
    assert not card.turns
    assert card.flip.likely is None
    assert not any("west" in line for line in call_words(card, "us"))
    assert "turn east" not in card_sentence(card, "us")


def test_a_thermal_rack_has_a_card_too() -> None:
    card = card_for(load_job("demo", ["rack.kind=thermal"]), SPRING)
    assert card.turns
    assert card.flip.late is not None
    assert card.water.early <= card.water.likely <= card.water.late  # type: ignore[operator]


def test_a_polar_night_and_a_lift_too_high_are_told_in_words() -> None:
    north = ["site.latitude=72", "site.timezone=", "trees=[]", "weather.file=", "weather.clear_sky=true"]
    dark = card_for(load_job("demo", north), dt.date(2025, 12, 21))
    assert "does not rise" in card_sentence(dark, "us")
    assert not call_words(dark, "us")
    card_figure(dark, "us")
    dry = card_for(load_job("demo", ["source.lift=500 ft"]), SPRING)
    assert "no water" in card_sentence(dry, "us")
    assert "do not expect water" in last_words(dry)


def test_a_tank_s_level_does_not_enter() -> None:
    full = card_for(load_job("demo", ["store.capacity=3000 gal", "store.start=1"]), SPRING)
    assert full.days["clear"].total_m3 > held_value(5000, "volume", "us")


def test_by_default_it_is_the_day_after_the_site_s_today() -> None:
    assert card_for(JOB).date - today_at(JOB.site) == dt.timedelta(days=1)


def test_a_day_too_far_off_is_one_fault() -> None:
    with pytest.raises(InputError) as told:
        card_for(JOB, dt.date(1800, 1, 1))
    assert [fault.field for fault in told.value.faults] == ["date"]


def test_the_figure_has_ink_and_no_colour(card: Tomorrow, tmp_path: Path) -> None:
    card_figure(card, "us").savefig(tmp_path / "card.png", dpi=60)
    image = imread(tmp_path / "card.png")[..., :3]
    assert np.ptp(image) > 0.9
    assert np.abs(image - image.mean(axis=2, keepdims=True)).max() < 0.02
