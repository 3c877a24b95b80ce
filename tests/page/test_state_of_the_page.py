"""The one state in the address, undo, what is worked out ahead, and figures that add up as printed."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackersim.analysis.first_look import days_of, first_look
from trackersim.analysis.losses import site_losses
from trackersim.job.files import load_job
from trackersim.page.ahead import Ahead, dial_of, trees_of
from trackersim.page.figures_shown import printed, steps_in
from trackersim.page.state import edit, first_desk, undo
from trackersim.page.strip import ViewState, address_of, shown_job, view_of
from trackersim.page.strip_bar import put_into_job
from trackersim.report.site_losses import added_up
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.runner import Runner

DAY = load_job("demo", ["weather.file=sample:clear-spring-day"])


@pytest.mark.parametrize(
    "view",
    [
        ViewState(),
        ViewState(system="si", delay_min=95.0, trees="in ten years", day=dt.date(2025, 4, 17)),
        ViewState(trees="none", charge=0.5, shade_plates=0.0, damper=2.5),
    ],
)
def test_an_address_brings_the_same_state_back(view: ViewState) -> None:
    assert view_of(address_of(view)) == view


@given(st.dictionaries(st.sampled_from(["delay", "trees", "day", "units", "charge", "damper", "x"]), st.text()))
def test_any_address_is_a_state_and_nonsense_is_as_in_the_job(address: Mapping[str, str]) -> None:
    view = view_of(address)
    assert view_of(address_of(view)) == view
    assert view.delay_min is None or 0 <= view.delay_min <= 720


@pytest.mark.parametrize("delay", ["nan", "inf", "-1", "721", "1e999", "６０ min", ""])
def test_a_delay_that_is_none_is_as_in_the_job(delay: str) -> None:
    assert view_of({"delay": delay}).as_in_job


def test_a_delay_as_long_as_a_job_may_have_survives_the_address() -> None:
    """The dial of a rack that waits 500 min goes so far; a sent link with 400 once came back as in the job."""
    dial = dial_of(load_job("demo", ["rack.flip_delay=500"]))
    assert dial is not None
    assert dial.points[-1] == 500
    for delay in (400.0, 500.0):
        assert view_of(address_of(ViewState(delay_min=delay))).delay_min == delay


@given(st.lists(st.floats(-1e4, 1e6), min_size=1, max_size=5), st.sampled_from([1.0, 0.01, 0.003785411784]))
def test_parts_add_up_as_printed_and_each_is_its_own_rounding(parts: list[float], step: float) -> None:
    whole, *steps = added_up(parts, step=step)
    assert sum(steps) == whole
    assert whole == pytest.approx(sum(parts) / step, abs=0.51 * len(parts), rel=1e-9)
    for printed_part, part in zip(steps, parts, strict=True):
        assert printed_part == pytest.approx(part / step, abs=0.51, rel=1e-9)


@pytest.mark.parametrize("kind", ["delayed", "fixed", "thermal", "ideal"])
def test_the_first_look_is_the_one_accounting(kind: str) -> None:
    job = load_job("demo", ["weather.file=sample:clear-spring-day", f"rack.kind={kind}"])
    runner = Runner(job)
    site = site_losses(runner)
    look = first_look(job, lambda jobs: [days_of(result) for result in runner.run_all(jobs)])
    assert look.late_m3_per_day == pytest.approx(site.late_m3_per_day, abs=1e-12)
    assert look.trees_m3_per_day == pytest.approx(site.trees_m3_per_day, abs=1e-12)
    assert look.lost_m3.sum() == pytest.approx(look.days * (look.late_m3_per_day + look.trees_m3_per_day))
    for system in ("us", "si"):
        shown = printed(look, steps_in(system))
        assert shown["lifted"] + shown["late"] + shown["trees"] == shown["whole"]
    assert look.first_day <= look.telling_day <= look.last_day
    assert look.day_shown(dt.date(1999, 1, 1)) == look.telling_day


def test_the_table_ahead_holds_what_is_simulated_for_itself_and_waits_for_visitors() -> None:
    waiting = True
    ahead = Ahead(StageCache(), busy=lambda: waiting)
    table = ahead.table("day", DAY)
    time.sleep(0.3)
    assert not table.cells
    waiting = False
    ends = time.monotonic() + 120
    while not table.done and time.monotonic() < ends:
        time.sleep(0.05)
        assert ahead.known("day") is table  # as a browser asks
    dial = dial_of(DAY)
    assert dial is not None
    assert set(table.cells) == {(trees, value) for trees in trees_of(DAY) for value in dial.points}
    desk = first_desk()
    desk.good = DAY
    for trees, value in (("none", 180.0), ("in ten years", 30.0), ("as they are", dial.own)):
        job = shown_job(desk, ViewState(trees=trees, delay_min=value))  # type: ignore[arg-type]
        assert table.cells[trees, value].own_m3_per_day == Runner(job).run().water_m3_per_day  # type: ignore[index]
    assert table.whole
    assert table.ranks
    assert len(table.ranks) == len(DAY.trees)


def test_a_table_that_nobody_asks_for_rests_and_goes_on_when_it_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once every job that anybody had looked at was worked out to its end, pages closed or not: a minute each."""
    ahead = Ahead(StageCache(), busy=lambda: False)
    table, ends = ahead.table("day", DAY), time.monotonic() + 120

    def fills_beyond(known: int) -> bool:
        while len(table.cells) <= known and time.monotonic() < ends:
            ahead.known("day")
            time.sleep(0.01)
        return len(table.cells) > known

    assert fills_beyond(0)
    monkeypatch.setattr("trackersim.page.ahead._LEFT_AFTER_S", -1.0)
    while ahead._thread is not None and time.monotonic() < ends:
        time.sleep(0.05)
    assert not table.done
    monkeypatch.undo()
    assert fills_beyond(len(table.cells))


def test_undo_brings_back_what_was_on_the_desk() -> None:
    desk = first_desk()
    first = desk.data
    assert not desk.own
    edit(desk, "rack.flip_delay", "95 min")
    second = desk.data
    put_into_job(desk, ViewState(trees="none"))
    assert desk.good.trees == ()
    assert desk.good.rack.flip_delay_min == 95
    undo(desk)
    assert desk.data == second
    undo(desk)
    assert desk.data == first
    undo(desk)
    assert desk.data == first
    assert desk.good.rack.flip_delay_min == 60


def test_what_is_supposed_leaves_the_job_alone() -> None:
    desk = first_desk()
    before = desk.good
    job = shown_job(desk, ViewState(delay_min=120.0, trees="in ten years"))
    assert job.rack.flip_delay_min == 120
    assert job.trees[0].height_m > before.trees[0].height_m
    assert desk.good is before
    assert shown_job(desk, ViewState(system="si", day=dt.date(2025, 1, 1))) is before
