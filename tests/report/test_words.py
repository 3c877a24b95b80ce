"""Sentences: figures with units, the right comparison, names shown as they are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

from trackersim import Result, compare, load_job, simulate
from trackersim.analysis.uncertain_inputs import UNKNOWNS
from trackersim.analysis.wiring import wiring_of
from trackersim.errors import Level, Notice
from trackersim.report import alt, uncertainty, words
from trackersim.report.chart_series import day_charts, months_chart
from trackersim.report.run import run_answer
from trackersim.report.wiring import loss_words

CLEAR = ["weather.file=", "weather.clear_sky=true"]
SPRING = {"first_day": dt.date(2025, 3, 20), "last_day": dt.date(2025, 3, 21)}


def test_headline_gives_mean_worst_and_best_month(demo_year: Mapping[str, Result]) -> None:
    late = demo_year["delayed"]
    sentence = words.headline(late, "us")
    per_day = late.monthly_means["water_m3"]
    assert words.MONTHS[per_day.idxmin() - 1] in sentence
    assert words.MONTHS[per_day.idxmax() - 1] in sentence
    gallons = late.water_m3_per_day / 3.785411784e-3
    assert f"{round(gallons, -1):,.0f} gal/day" in sentence


def test_days_that_never_turned_are_counted(demo_year: Mapping[str, Result]) -> None:
    late = demo_year["delayed"]
    stayed = late.days - late.flip_summary()["days_flipped"]
    assert f"on {stayed} days it did not" in words.flip_words(late)


def test_remarks_of_a_result_are_in_the_readers_units_first() -> None:
    levels: tuple[Level, ...] = ("danger", "caution", "note")
    told = tuple(Notice(text="bears 72.5 psi (500 kPa).", level=level) for level in levels)
    result = replace(simulate(load_job("demo", CLEAR), **SPRING), notices=told)
    for system, text in (("us", "bears 72.5 psi (500 kPa)."), ("si", "bears 500 kPa (72.5 psi).")):
        answer = run_answer(result, system)
        said = [block for block in (*answer.dangers, *answer.blocks) if "bears" in getattr(block, "text", "")]
        assert [block.text.partition(": ")[2] for block in said] == [text] * 3  # type: ignore[union-attr]


def test_names_in_a_row_end_with_and() -> None:
    assert [words.listed(names) for names in (["a"], ["a", "b"], ["a", "b", "c"])] == ["a", "a and b", "a, b and c"]


def test_stuck_racks_are_named_by_their_side() -> None:
    for angle, side in ((50, "west"), (-50, "east")):
        job = load_job("demo", [*CLEAR, "rack.kind=fixed", f"rack.fixed_rotation={angle}"])
        result = compare(job, kinds=["fixed"], **SPRING)["fixed"]
        assert words.rack_words(result) == f"rack stuck 50° to the {side}"


def test_one_month_needs_no_best_and_worst() -> None:
    result = compare(load_job("demo", CLEAR), kinds=["ideal"], **SPRING)["ideal"]
    assert "from" not in words.headline(result, "us").split(".")[0].replace("from the", "")


def test_a_rack_that_never_turned_is_told_so() -> None:
    result = compare(load_job("demo", [*CLEAR, "rack.flip_delay=720"]), kinds=["delayed"], **SPRING)["delayed"]
    assert words.flip_words(result) == "The rack never turned east in the days simulated."


def test_one_day_is_told_as_one() -> None:
    """ "On 1 of 1 days, half of them within 96 min", it once said."""
    one_day = {"first_day": dt.date(2025, 6, 10), "last_day": dt.date(2025, 6, 10)}
    result = simulate(load_job("demo", CLEAR), **one_day)
    assert words.flip_words(result).startswith("It turned east on 1 of 1 day, within ")
    assert " are lifted on 1 of 1 day." in words.demand_words(result, "us")
    assert " kWh in 1 day, " in loss_words(wiring_of(result))


def test_no_water_at_all_still_makes_sentences() -> None:
    results = compare(load_job("demo", [*CLEAR, "source.lift=300 ft"]), **SPRING)
    assert "lifts about 0 gal/day" in words.headline(results["delayed"], "us")
    assert all(row[2] == "–" for row in words.compare_table(results, "us").rows)


def test_provenance_line_traces_to_the_inputs(demo_year: Mapping[str, Result]) -> None:
    late = demo_year["delayed"]
    line = words.provenance_words(late)
    assert late.job.sha256()[:12] in line
    assert late.provenance.weather_sha256[:12] in line
    assert "2025-01-01 to 2025-12-31" in line


def test_ranges_of_the_spread_are_short_figures() -> None:
    """Once "× 0.814815 … 1.57407" and "+ −2 … 3", and a file of the program's own as the source."""
    told = [uncertainty._range_words(unknown) for unknown in UNKNOWNS]
    assert "−2 … +3" in told
    assert all(len(figure) <= 5 for words_ in told for figure in words_.split() if figure[-1].isdigit())
    assert not any(".py" in unknown.source for unknown in UNKNOWNS)


def test_what_is_wanted_is_that_of_the_months_simulated() -> None:
    """By months it was told as 0 gal/day, or as the one demand that they replace."""
    by_month = "store.demand_by_month=1500 1500 3000 3000 3000 9000 9000 9000 3000 3000 1500 1500 gal/day"
    job = load_job("demo", [*CLEAR, by_month, "store.demand=4000 gal/day"])
    spring = simulate(job, first_day=dt.date(2025, 2, 27), last_day=dt.date(2025, 3, 2))
    assert "The 1,500 to 3,000 gal/day wanted in the tank are lifted on" in words.demand_words(spring, "us")
    march = simulate(job, **SPRING)
    assert "The 3,000 gal/day wanted in the tank are lifted on" in words.demand_words(march, "us")


def test_a_store_that_is_followed_meets_what_is_wanted_with_water_of_other_days() -> None:
    dry = simulate(load_job("demo", [*CLEAR, "store.capacity=6000 gal", "source.lift=400 ft"]), **SPRING)
    assert dry.water_m3 == 0
    assert words.demand_words(dry, "us") == " The 3,000 gal/day wanted in the tank are met on 1 of 2 days."


def test_several_pumps_on_several_racks_are_not_told_as_one() -> None:
    """Once wrong: "on the late-turning rack this pump lifts" of two pumps, one of them on a fixed rack."""
    one, other = "{name='A'}", "{name='B', rack={kind='fixed', fixed_tilt=30}}"
    job = load_job(
        "demo", [*CLEAR, f"unit=[{one}, {other}]", "main={lift='10 ft', pipes={length='90 ft', bore='2 in'}}"]
    )
    result = simulate(job, first_day=dt.date(2025, 3, 21), last_day=dt.date(2025, 3, 21))
    told = words.headline(result, "us")
    assert "on the racks as they are these 2 pumps lift about" in told
    assert "this pump" not in told
    assert "late-turning" not in told
    assert words.flip_words(result).startswith("The rack of A turned east on 1 of 1 day,")
    # Once "late-turning" in the table of racks, too.
    rows = words.compare_table({"delayed": result, "ideal": result}, "us").rows
    assert [row[0] for row in rows] == ["racks as they are", "racks as they are"]
    # And in the pictures' legends, and in what stands for them.
    charts = (months_chart({"delayed": result}, "us"), *day_charts({"delayed": result}, "us", 0))
    assert {each.name for chart in charts for each in chart.series} == {"racks as they are", "sun"}
    for told in (alt.months_alt({"delayed": result}, "us"), alt.day_alt({"delayed": result}, "us", day=0)):
        assert "Racks as they are: " in told
        assert "ate-turning" not in told
    alike = simulate(load_job("demo", CLEAR), **SPRING)
    assert "on the late-turning rack this pump lifts about" in words.headline(alike, "us")
    assert words.flip_words(alike).startswith("It turned east")


def test_a_rack_by_physics_closes_its_comma() -> None:
    """Once "on the thermal rack, by physics this pump lifts"."""
    by_physics = simulate(load_job("demo", [*CLEAR, "rack.kind=thermal"]), **SPRING)
    assert "on the thermal rack, by physics, this pump lifts" in words.headline(by_physics, "us")


def test_nothing_is_told_of_a_rest_that_is_not_there() -> None:
    """Once "could give 4.4 kWh a day, of which 4.4 are used: the rest ..."."""
    result = simulate(load_job("demo", CLEAR), **SPRING)
    daily = result.daily.assign(input_kwh=4.44, used_kwh=4.38)

    class Days:
        job, bought_kwh = result.job, None

    days = Days()
    days.daily = daily
    assert words.energy_words(days) == "The array could give 4.4 kWh a day, of which 4.4 are used."
    days.daily = daily.assign(used_kwh=4.3)
    assert words.energy_words(days).endswith("of which 4.3 are used: the rest finds the pump at rest, or already at "
                                             "full speed.")  # fmt: skip


def test_the_sun_is_not_told_to_spare_what_nobody_would_buy() -> None:
    """Once wrong: all that the sun gives was money spared, though half of that water was not wanted."""
    backup = ["backup.begins=20", "backup.ends=22", "backup.price_per_kwh=0.2", "store.demand=100 gal/day"]
    result = simulate(load_job("demo", [*CLEAR, *backup]), **SPRING)
    told = words.energy_words(result)
    assert "spares" not in told
    same = result.daily["used_kwh"].mean() * 0.2 * 365
    assert f"as much as the sun gives would cost ${same:,.0f} a year" in told
