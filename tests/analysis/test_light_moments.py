"""Two words for the morning's light: what they are by hand, and that four answers give the same instants."""

from __future__ import annotations

import datetime as dt

import pytest

from trackersim import Job, load_job
from trackersim.analysis.day_ahead import card_for
from trackersim.analysis.flip_check import check_flip
from trackersim.analysis.light_moments import light_of_day
from trackersim.analysis.morning import explain_morning
from trackersim.analysis.observed_sky import Seen
from trackersim.analysis.tree_shading import clearing_days, shade_of
from trackersim.clock import hhmm, moment_at
from trackersim.report import day_ahead, flip_check, morning, tree_shading
from trackersim.report.words import FULL_SUN, first_light_words

CLEAR = ["weather.file=", "weather.clear_sky=true"]
DATES = [dt.date(2025, 3, 21), dt.date(2025, 6, 21), dt.date(2025, 12, 21)]
JOBS = {
    "late": [], "by physics": ["rack.kind=thermal"], "fixed": ["rack.kind=fixed"], "without trees": ["trees=[]"],
    "behind a hill": ["horizon.points=[[60, 8], [120, 8], [180, 2], [350, 0]]"],
}  # fmt: skip


def told(job: Job, date: dt.date) -> dict[str, dict[str, str]]:
    """Sunrise, first light and full sun as each answer prints them on the site's clock."""
    names = ("sunrise", first_light_words(job), FULL_SUN)
    check = check_flip(job, moment_at(job.site, f"{date} 09:00"), seen=Seen(sky="clear"), runs=2)
    tables = {
        "morning": [row[:2] for row in morning.moment_table(explain_morning(job, date)).rows],
        "flip": [(row[0], row[2]) for row in flip_check.moment_table(check).rows],
        "tomorrow": [(row[0], row[2]) for row in day_ahead.moment_table(card_for(job, date)).rows],
    }
    shown = {name: {row[0]: row[1].split()[0] for row in rows if row[0] in names} for name, rows in tables.items()}
    day = clearing_days(job)[date.month - 1]
    minutes = (day.sunrise, day.first_light, day.full_sun)
    shown["trees"] = {name: hhmm(check.clock(minute)) for name, minute in zip(names, minutes, strict=True)}
    return shown


@pytest.mark.parametrize("date", DATES, ids=str)
def test_four_answers_give_the_same_instants(date: dt.date) -> None:
    """Once up to an hour apart: through bare branches, past the last one, at the canister, at the last module."""
    shown = told(load_job("demo", CLEAR), date)
    assert len(shown["trees"]) == 3
    for name, instants in shown.items():
        assert instants == shown["trees"], name


@pytest.mark.parametrize("name", list(JOBS)[1:])
def test_they_do_on_other_racks_and_sites(name: str) -> None:
    shown = told(load_job("demo", [*CLEAR, *JOBS[name]]), DATES[0])
    for answer, instants in shown.items():
        assert instants == shown["trees"], answer


def test_cloud_does_not_move_them() -> None:
    """They are the place's own: the typical year's overcast day has the instants of a cloudless one."""
    job = load_job("demo")
    dull = explain_morning(job, dt.date(2025, 12, 31))
    assert dull.moments["first_beam"] is None
    light = light_of_day(load_job("demo", CLEAR), dt.date(2025, 12, 31))
    assert (dull.moments["first_light"], dull.moments["full_sun"]) == (light.first_light, light.full_sun)
    assert light.first_light is not None


def test_first_light_is_the_sunshine_that_the_rack_waits_for() -> None:
    """Under a cloudless sky it is the event from which a watched delay counts, bare branches or not."""
    for date in DATES:
        one = explain_morning(load_job("demo", CLEAR), date)
        assert one.moments["first_light"] == one.moments["first_beam"]


def test_branches_let_first_light_through_before_full_sun() -> None:
    """Bare oaks pass 45 % and more of the winter sun; a wall of evergreens of no light at all leaves only full sun."""
    bare = light_of_day(load_job("demo", CLEAR), dt.date(2025, 3, 21))
    assert bare.first_light is not None
    assert bare.full_sun is not None
    assert bare.first_light < bare.full_sun - 20
    wall = 'trees=[{kind="row", bearing=90, distance=40, height=13.2, width=300, leaf="evergreen"}]'
    dense = load_job("demo", [*CLEAR, wall, "trees.0.transmittance_leaf_on=0"])
    thick = light_of_day(dense, dt.date(2025, 3, 21))
    assert thick.first_light is not None
    assert thick.full_sun is not None
    assert thick.full_sun - thick.first_light <= 15  # the shadow's edge crosses the array in between


def test_polar_night_and_day_have_no_sunrise() -> None:
    polar = ["site.latitude=75", "site.longitude=15", "site.utc_offset=1", "site.timezone=", "trees=[]"]
    job = load_job("demo", [*CLEAR, *polar])
    night, day = (light_of_day(job, dt.date(2025, month, 21)) for month in (12, 6))
    assert (night.sunrise, night.first_light, night.full_sun, night.sunset) == (None, None, None, None)
    assert (day.sunrise, day.sunset) == (None, None)


def test_heads_of_the_trees_table_are_the_two_words() -> None:
    table = tree_shading.shade_table(shade_of(load_job("demo", ["weather.file=sample:clear-spring-day"]), years=()))
    heads = [" ".join(head.split()) for head in table.header]
    assert "first light through the branches" in heads
    assert FULL_SUN in heads
