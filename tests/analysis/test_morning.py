"""One morning explained: its moments, what it waited for, what that cost, and the command that tells it."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pandas as pd
import pytest
from thermal_logs import write_log
from typer.testing import CliRunner

from trackersim import InputError, load_job, simulate
from trackersim.analysis.morning import LIGHT, MOMENTS, Morning, explain_morning
from trackersim.cli import app
from trackersim.report.morning import moment_table, morning_sentence, sunshine_words, waiting_words

THERMAL, CLEAR = "rack.kind=thermal", ("weather.file=", "weather.clear_sky=true")
EVERGREEN = 'trees=[{kind="row", bearing=90, distance=40, height=13.2, width=300, leaf="evergreen"}]'
POLAR = ("site.latitude=78", "site.longitude=15", "site.utc_offset=1", "site.timezone=", "trees=[]",
         "weather.coldest=-25", "weather.warmest=6")  # fmt: skip
SPRING, SUMMER = dt.date(2025, 3, 21), dt.date(2025, 6, 21)
PAIRS = [("sunrise", "first_beam"), ("first_beam", "flip"), ("flip", "arrival")]


@cache
def explain(date: dt.date, *overrides: str) -> Morning:
    return explain_morning(load_job("demo", list(overrides)), date)


@pytest.fixture(scope="module")
def clear_morning() -> Morning:
    return explain(SPRING, THERMAL, *CLEAR, "trees=[]")


def test_json_has_the_keys_asked_for(clear_morning: Morning) -> None:
    answer = clear_morning.summary()
    assert {"date", "sunrise", "first_beam", "flip", "arrival", "minutes", "waited_for", "water_lost_m3",
            "energy_lost_kwh"} <= set(answer)  # fmt: skip
    assert set(answer["minutes"]) == {"sunrise_to_first_beam", "first_beam_to_flip", "flip_to_arrival"}
    assert answer["date"] == "2025-03-21"
    assert json.loads(json.dumps(answer, allow_nan=False)) == answer


@pytest.mark.parametrize("zone", ["America/New_York", ""])
def test_times_carry_an_offset_and_agree_with_the_minutes(zone: str) -> None:
    answer = explain(SPRING, THERMAL, *CLEAR, "trees=[]", f"site.timezone={zone}").summary()
    times = {name: dt.datetime.fromisoformat(answer[name]) for name in MOMENTS}
    for time in times.values():
        assert time.utcoffset() == dt.timedelta(hours=-4 if zone else -5)  # daylight saving only on the wall's clock
        assert time.date() == SPRING
    for earlier, later in PAIRS:
        minutes = answer["minutes"][f"{earlier}_to_{later}"]
        assert isinstance(minutes, int)
        assert minutes >= 0
        assert times[later] - times[earlier] == dt.timedelta(minutes=minutes)


def test_sunrise_is_that_of_an_almanac() -> None:
    """M: near an equinox the sun rises at about 06:10 local mean time; 79.95° W is 20 min behind UTC−5: 06:20 ± 5."""
    moment = explain(SPRING, THERMAL, *CLEAR, "site.timezone=").moment("sunrise")
    assert moment is not None
    assert abs(moment.hour * 60 + moment.minute - 380) <= 5


@pytest.mark.parametrize("kind", ["delayed", "thermal"])
def test_a_late_rack_loses_and_an_ideal_one_does_not(kind: str) -> None:
    for date in (SPRING, SUMMER, dt.date(2025, 12, 20), dt.date(2025, 9, 3)):
        late = explain(date, f"rack.kind={kind}", *CLEAR)
        assert late.energy_lost_kwh > 0
        assert late.water_lost_m3 >= 0
    real = explain(SPRING, f"rack.kind={kind}")
    assert real.energy_lost_kwh > 0
    assert real.water_lost_m3 >= 0


def test_losses_are_those_of_the_minutes_until_arrival(clear_morning: Morning) -> None:
    sunrise, arrival = clear_morning.moments["sunrise"], clear_morning.moments["arrival"]
    assert sunrise is not None
    assert arrival is not None
    own, ideal = (one.by_day("array_w")[-1, sunrise:arrival] for one in (clear_morning.own, clear_morning.ideal))
    assert clear_morning.energy_lost_kwh == pytest.approx((ideal - own).sum() / 60_000, rel=1e-12)


@pytest.mark.parametrize("kind", ["ideal", "fixed"])
def test_a_rack_that_does_not_wait_loses_nothing(kind: str) -> None:
    one = explain(SPRING, f"rack.kind={kind}")
    answer = one.summary()
    assert (answer["flip"], answer["arrival"], answer["waited_for"]) == (None, None, None)
    assert (answer["water_lost_m3"], answer["energy_lost_kwh"]) == (0, 0)
    assert "does not wait" in morning_sentence(one, "us")


def test_waits_for_warmth_under_an_open_sky(clear_morning: Morning) -> None:
    pale = explain(SPRING, THERMAL, *CLEAR, "trees=[]", "rack.thermal.absorptance=0.6")
    assert pale.waited_for == "warmth"
    assert clear_morning.summary()["canister_c"]["flip"][0] > clear_morning.summary()["canister_c"]["sunrise"][0]


def test_an_open_site_waits_for_no_trees() -> None:
    """Once "2 min trees" without any: the minutes in which the sun's edge is up and its centre is not."""
    for rack in ("rack.kind=delayed", THERMAL):
        one = explain(SUMMER, rack, *CLEAR, "trees=[]", "site.latitude=55")
        assert one.waited_min["trees"] == 0
        assert one.waited_min["light"] > 0


def test_of_several_racks_the_one_that_is_told_of_has_its_name() -> None:
    """Once "the rack turned east ... it was 149 gal behind a rack that follows the sun", of three on one main."""
    main = "main={lift='10 ft', pipes={length='90 ft', bore='2 in'}}"
    one = explain(SPRING, *CLEAR, "trees=[]", "unit=[{name='A'}, {name='B', rack={kind='fixed', fixed_tilt=30}}]", main)
    words = morning_sentence(one, "us")
    assert "the rack of A turned east" in words
    assert "these 2 pumps were" in words
    assert "behind racks that follow the sun" in words


def test_waits_for_trees_behind_an_evergreen_row() -> None:
    """Common practice, no source: behind trees it does not move until the sun has cleared them."""
    for date in (SPRING, SUMMER):
        one = explain(date, THERMAL, *CLEAR, EVERGREEN)
        assert one.waited_for == "trees"
        assert "trees" in morning_sentence(one, "us")
        beam, flip = one.moments["first_beam"], one.moments["flip"]
        assert beam is not None
        assert flip is not None
        assert 0 < flip - beam <= 40


def test_waits_for_trees_behind_the_demos_leafy_oaks_in_summer_only() -> None:
    assert explain(SUMMER, THERMAL, *CLEAR).waited_for == "trees"
    assert explain(SPRING, THERMAL, *CLEAR).waited_for == "warmth"


def test_what_leaves_let_through_of_a_high_sun_is_a_wait_for_trees() -> None:
    """Once wrong: while an evergreen row kept four fifths of the sun from the rack, what came through was told as the
    sun warming the canister: 90 minutes of warmth on a rack that turned 7 minutes after it had full sun."""
    row = 'trees=[{kind="row", bearing=88, distance=25, height=25, width=60, leaf="evergreen"}]'
    one = explain(SUMMER, *CLEAR, row)
    flip, full_sun = one.moments["flip"], one.moments["full_sun"]
    assert flip is not None
    assert full_sun is not None
    assert 0 < flip - full_sun < 20
    assert one.waited_for == "trees"
    assert one.waited_min["warmth"] < 40
    assert sum(one.waited_min.values()) == one.between("sunrise", "flip")


def test_an_overcast_winter_day_never_flips_and_says_so() -> None:
    one = explain(dt.date(2025, 12, 31), THERMAL)
    answer = one.summary()
    assert (answer["first_beam"], answer["flip"], answer["arrival"]) == (None, None, None)
    assert answer["minutes"]["first_beam_to_flip"] is None
    assert answer["waited_for"] == "cloud"
    assert "never turned east" in morning_sentence(one, "us")
    assert "clouds hid the sun" in morning_sentence(one, "us")


def test_waits_for_light_when_the_rack_needs_little_warmth() -> None:
    assert explain(SPRING, *CLEAR, "trees=[]", "rack.flip_delay=5").waited_for == "light"


def test_minutes_waited_add_up_to_the_time_from_sunrise_to_flip(clear_morning: Morning) -> None:
    assert sum(clear_morning.waited_min.values()) == clear_morning.between("sunrise", "flip")
    assert set(clear_morning.waited_min) == {"light", "cloud", "trees", "warmth"}
    assert waiting_words(clear_morning).startswith("Waited for: ")
    rows = moment_table(clear_morning).rows
    assert [row[0] for row in rows] == ["sunrise", "first light", "full sun", "rack turns east", "faces the sun"]
    order = ("sunrise", "first_light", "full_sun", "flip", "arrival")
    assert [row[2] for row in rows] == ["–", *(str(clear_morning.between(*pair)) for pair in pairwise(order))]


def test_a_stuck_rack_says_so() -> None:
    one = explain(SPRING, THERMAL, *CLEAR, "trees=[]", "rack.thermal.stuck=true")
    assert "is stuck at 50°" in morning_sentence(one, "us")
    assert one.summary()["flip"] is None
    assert one.energy_lost_kwh > 1


def test_a_stuck_rack_waits_for_nothing() -> None:
    assert explain(SPRING, THERMAL, *CLEAR, "trees=[]", "rack.thermal.stuck=true").waited_for == ""


def test_a_rack_left_in_the_east_overnight_is_not_told_to_have_waited() -> None:
    one = explain(dt.date(2025, 5, 10), THERMAL)
    assert one.own.by_day("rotation_deg")[-1, 378] < -40
    assert "never turned east" not in morning_sentence(one, "us")


def test_a_clear_sky_has_no_clouds_to_wait_for() -> None:
    assert explain(SUMMER, THERMAL, *CLEAR).waited_min["cloud"] == 0


def test_most_of_the_time_is_more_than_half() -> None:
    one = explain(SUMMER, THERMAL, *CLEAR)
    whole = one.between("sunrise", "flip")
    assert whole is not None
    assert "most of that time" not in morning_sentence(one, "us") or one.waited_min[one.waited_for] > whole / 2


@pytest.mark.parametrize("season", ["12-21", "06-21"])
def test_polar_night_and_day_have_no_morning(season: str) -> None:
    one = explain(dt.date.fromisoformat(f"2025-{season}"), THERMAL, *CLEAR, *POLAR)
    assert "no sunrise on this day" in morning_sentence(one, "us")
    assert ("the sun does not set" in morning_sentence(one, "us")) == (season == "06-21")
    assert one.summary()["sunrise"] is None
    assert one.summary()["minutes"]["sunrise_to_first_beam"] is None
    assert one.waited_for == ""


def test_another_year_of_a_typical_year_is_the_same_morning() -> None:
    now, then = (explain(dt.date(year, 3, 21), THERMAL).summary() for year in (2025, 1999))
    assert now["minutes"] == then["minutes"]
    assert now["flip"] == then["flip"]


def test_a_leap_day_of_a_typical_year_is_its_28_february() -> None:
    leap, day_before = (explain(date, THERMAL) for date in (dt.date(2024, 2, 29), dt.date(2025, 2, 28)))
    assert leap.summary()["minutes"] == day_before.summary()["minutes"]


@pytest.mark.parametrize("day", [1, 2, 3])
@pytest.mark.parametrize("sky", ["real", "clear"])
def test_the_first_days_of_a_typical_year_can_be_explained(day: int, sky: str) -> None:
    one = explain(dt.date(2025, 1, day), THERMAL, *(CLEAR if sky == "clear" else ()))
    assert one.date == dt.date(2025, 1, day)


def test_the_fourth_and_the_last_day_can_be_explained() -> None:
    for date in (dt.date(2025, 1, 4), dt.date(2025, 12, 31)):
        assert explain(date, THERMAL).date == date


def test_dates_outside_a_real_log_are_refused(tmp_path: Path) -> None:
    log = write_log(tmp_path / "log.csv", wind_m_s=2)
    assert explain(dt.date(2025, 3, 18), THERMAL, log).date == dt.date(2025, 3, 18)  # its first day
    for outside in (dt.date(2025, 3, 17), dt.date(2025, 3, 24), dt.date(2025, 6, 21), dt.date(2024, 3, 20)):
        with pytest.raises(InputError, match="2025-03-23"):
            explain(outside, THERMAL, log)


def test_a_date_far_outside_a_log_is_a_fault_of_date(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="date"):
        explain(dt.date(2025, 6, 21), THERMAL, write_log(tmp_path / "log.csv", wind_m_s=2))


def test_units_of_the_sentence(clear_morning: Morning) -> None:
    us, si = (morning_sentence(clear_morning, system) for system in ("us", "si"))
    assert "gal of water" in us
    assert "m³" not in us
    assert "m³ of water" in si
    assert "gal" not in si
    assert f"{clear_morning.between('sunrise', 'flip')} min after sunrise" in us


def test_the_command_prints_words_and_files(tmp_path: Path) -> None:
    words = ["morning", "demo", "--date", "2025-03-21", "--set", THERMAL]
    told = CliRunner().invoke(app, [*words, "--out", str(tmp_path / "out")])
    assert told.exit_code == 0
    flat = " ".join(told.stdout.split())
    assert "the rack turned east at" in flat
    assert "no measured parameter set is published" in flat
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["morning.json", "morning.png"]
    assert (tmp_path / "out" / "morning.png").read_bytes().startswith(b"\x89PNG")
    printed = CliRunner().invoke(app, [*words, "--json"])
    answer = json.loads(printed.stdout)
    assert answer == json.loads((tmp_path / "out" / "morning.json").read_text(encoding="utf-8"))
    assert any("no measured parameter set is published" in text for text in answer["notices"])


def test_the_command_tells_a_bad_date_and_leaves_with_2() -> None:
    refused = CliRunner().invoke(app, ["morning", "demo", "--date", "21 March"])
    assert refused.exit_code == 2


SUMP = ("source.kind=sump", "source.inflow=700 gal/day", "source.volume=600 gal", "source.lift=90 ft", "trees=[]")


def test_a_collecting_tank_catches_up_what_the_morning_lost() -> None:
    """The spring brings 700 gal a day and the pump could lift twice that: what waits in the tank is lifted later."""
    one = explain(SPRING, *CLEAR, *SUMP)
    assert one.water_lost_m3 > 0.1
    # The two days end with the tank at other levels between its stop and its restart.
    assert 0.95 * one.water_lost_m3 <= one.caught_up_m3 <= one.water_lost_m3 + 0.3 * 600 * 0.003785
    assert "the collecting tank made all of that good" in morning_sentence(one, "us")


def test_a_tank_that_fills_in_any_case_is_not_short() -> None:
    tank = ("store.capacity=1500 gal", "store.demand=600 gal/day", "trees=[]")
    one = explain(SPRING, *CLEAR, *tank)
    assert one.water_lost_m3 > 0
    assert 0.5 * one.water_lost_m3 < one.caught_up_m3 <= 1.2 * one.water_lost_m3
    assert "the tank made" in morning_sentence(one, "us")


def test_a_deep_well_and_an_endless_store_catch_up_nothing() -> None:
    one = explain(SPRING, *CLEAR, "trees=[]")
    assert one.water_lost_m3 > 0.1
    assert one.caught_up_m3 == pytest.approx(0, abs=0.01 * one.water_lost_m3)
    assert "made" not in morning_sentence(one, "us")


def test_what_made_a_loss_good_is_named_as_the_job_has_it() -> None:
    """A store without a capacity is not followed: no tank kept anything; a rounding error is nothing made good."""
    one = explain(SPRING, *CLEAR, "trees=[]")
    assert one.own.job.store.capacity_m3 is None
    told = morning_sentence(replace(one, caught_up_m3=one.water_lost_m3), "us")
    assert "; the pump made all of that good the same day." in told
    assert "tank" not in told
    assert "made" not in morning_sentence(replace(one, water_lost_m3=0.0, caught_up_m3=1e-16), "us")
    both = replace(explain(SPRING, *CLEAR, *SUMP, "store.capacity=1500 gal"), water_lost_m3=1.0, caught_up_m3=1.0)
    assert "; the collecting tank and the tank made all of that good the same day." in morning_sentence(both, "us")


def test_the_net_loss_is_that_of_two_days_that_differ_in_the_morning_alone() -> None:
    """By two plain runs: the same evening before, the rack prompt on one morning and late on the other."""
    one = explain(SPRING, *CLEAR, *SUMP)
    own, arrival = one.own, one.moments["arrival"]
    assert arrival is not None
    late = own.by_day("rotation_deg").copy()
    prompt = late.copy()
    late[-1, arrival:] = one.ideal.by_day("rotation_deg")[-1, arrival:]
    sunrise = one.moments["sunrise"]
    prompt[-1, sunrise:] = one.ideal.by_day("rotation_deg")[-1, sunrise:]
    days = {"first_day": own.times[0].date(), "last_day": own.times[-1].date()}
    water = [simulate(own.job, rotation_deg=path, **days).by_day("flow_m3_s")[-1] * 60 for path in (prompt, late)]
    assert one.water_lost_m3 == pytest.approx((water[0] - water[1])[sunrise:arrival].sum(), rel=1e-9)
    short_m3 = (water[0] - water[1])[sunrise:].sum()
    assert one.water_lost_m3 - one.caught_up_m3 == pytest.approx(short_m3, abs=1e-9)


def test_a_day_of_its_own_light_says_when_its_sunshine_came() -> None:
    """The table has the place's instants; cloud, or air cleaner than usual, has a sentence."""
    dull, clean = explain(dt.date(2025, 3, 24)), explain(SPRING)
    for one, why in ((clean, "clearer than usual"), (dull, "cloud or haze")):
        beam, light = one.moments["first_beam"], one.moments["first_light"]
        assert beam is not None
        assert light is not None
        assert (beam < light) == (why == "clearer than usual")
        assert why in sunshine_words(one)
    assert sunshine_words(explain(SPRING, *CLEAR)) == ""


def test_the_file_s_clock_need_not_be_the_site_s() -> None:
    """Light past trees was told by the site's clock and the rest by the file's: a rack turned before the sun was up."""
    date = dt.date(2025, 4, 9)
    told = []
    for offset in (-5.0, -4.5, -6.0):
        job = load_job("demo", [f"site.utc_offset={offset}"])
        morning = explain_morning(job, date)
        told.append({name: morning.moment(name) for name in (*MOMENTS, *LIGHT)})
    assert None not in told[0].values()
    assert told == [told[0]] * 3


def test_a_morning_may_be_asked_for_by_a_time_of_pandas() -> None:
    """It was told that the weather ended on that very day."""
    job, date = load_job("demo", ["weather.file=sample:clear-spring-day"]), dt.date(2025, 4, 15)
    for day in (pd.Timestamp(date), dt.datetime(2025, 4, 15, 8)):
        assert explain_morning(job, day).date == date
    with pytest.raises(InputError, match="is no day"):
        explain_morning(job, "2025-04-15")  # type: ignore[arg-type]


def test_days_before_a_morning_that_nobody_asked_for_are_not_said_to_be_lacking() -> None:
    """The file has this one day; a morning is begun some days before, where there are any."""
    found = explain_morning(load_job("demo", ["weather.file=sample:clear-spring-day"]), dt.date(2025, 4, 15))
    assert not [notice for notice in found.summary()["notices"] if "lacks some of the days" in notice]
