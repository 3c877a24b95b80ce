"""One site of a fleet as plain rows: one for the site, one for each month; SI, the unit at the end of each name."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from trackersim.analysis.losses import SiteLosses, losses_of, site_losses
from trackersim.analysis.options import options_of
from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.simulation.day_figures import DayFigures
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.runner import Runner

Question = Literal["compare", "losses", "options"]
Row = dict[str, Any]
Days = tuple[dt.date | None, dt.date | None]


@dataclass(frozen=True, kw_only=True)
class SiteRows:
    """What was found at one site: its row, and one row for each month that was simulated."""

    site: Row
    months: tuple[Row, ...]


def site_rows(job: Job, question: Question, *, days: Days = (None, None), stages: StageCache | None = None) -> SiteRows:
    """One question answered for one site. Raises `InputError` as `simulate` does.

    `stages` keeps what sites of one place share. One thread works on it.
    """
    first_day, last_day = days
    runner = Runner(job, first_day=first_day, last_day=last_day, cache=stages, threads=1)
    return _ANSWERS[question](runner)


def _compared(runner: Runner) -> SiteRows:
    job = runner.job
    racks = runner.racks()
    site = site_losses(runner, job)
    water = {f"{kind}_m3_per_day": result.water_m3_per_day for kind, result in racks.items()}
    return SiteRows(site=_common(site) | water, months=_months(site.own, racks))


def _lost(runner: Runner) -> SiteRows:
    found = losses_of(runner.job, runner=runner)
    lost = {f"{_key(term.cause)}_takes_m3_per_day": term.lost.water_m3 / found.days for term in found.terms}
    whole = {"ideal_in_every_way_m3_per_day": found.ideal.water_m3 / found.days}
    return SiteRows(site=_common(found.site) | whole | lost, months=_months(found.result, {}))


def _decided(runner: Runner) -> SiteRows:
    found = options_of(runner.job, runner=runner)
    row = _common(found.site)
    # The first that gains anything, in the order in which `options` tells them.
    first = next((each for each in found.choices[1:] if each.outcome and each.used_gain_m3_per_day > 0), None)
    row |= {
        "first_choice": "" if first is None else first.name,
        "first_choice_gains_m3_per_day": None if first is None else first.used_gain_m3_per_day,
        "first_choice_payback_years": None if first is None else first.payback_years,
        "first_choice_net_value": None if first is None else first.net_value,
    }
    for choice in found.choices[1:]:
        possible = choice.outcome is not None
        row[f"{_key(choice.ready or choice.name)}_gains_m3_per_day"] = choice.gain_m3_per_day if possible else None
    return SiteRows(site=row, months=_months(found.own, {}))


_ANSWERS: Mapping[Question, Callable[[Runner], SiteRows]] = {"compare": _compared, "losses": _lost, "options": _decided}


def _common(site: SiteLosses) -> Row:
    """What every question says of a site: its water, the two figures that everybody quotes, and what it stems from."""
    own, flip = site.own, site.own.flip_summary()
    figures = site.summary()
    origin = own.provenance
    return {
        "site": own.job.site.name,
        "rack": own.rack,
        "days": own.days,
        "water_m3_per_day": figures["as_it_stands_m3_per_day"],
        "used_kwh_per_day": float(own.daily["used_kwh"].sum()) / own.days,
        "open_and_prompt_m3_per_day": figures["open_and_prompt_m3_per_day"],
        "late_m3_per_day": figures["late_m3_per_day"],
        "trees_m3_per_day": figures["trees_m3_per_day"],
        "repair_wins_back_m3_per_day": figures["repair_wins_back_m3_per_day"],
        "days_flipped": flip["days_flipped"],
        "flip_after_sunrise_min": flip["median_min_after_sunrise"],
        "days_meeting_demand": own.days_meeting_demand,
        "cautions": " ".join(notice.text for notice in own.notices if notice.level != "note"),
        "dangers": " ".join(notice.text for notice in own.notices if notice.level == "danger"),
        "weather": origin.weather_name,
        "weather_sha256": origin.weather_sha256,
        "job_sha256": origin.job_sha256,
        "first_day": origin.first_day,
        "last_day": origin.last_day,
        "version": origin.version,
    }


def _months(own: DayFigures, racks: Mapping[str, DayFigures]) -> tuple[Row, ...]:
    told = own.monthly[own.monthly["days"] > 0]
    water = {kind: _water_by_month(result) for kind, result in racks.items()}
    return tuple(
        {
            "site": own.job.site.name,
            "month": int(month),
            "days": int(told["days"][month]),
            **{name: float(told[name][month]) for name in ("water_m3", "input_kwh", "used_kwh", "plane_kwh_m2")},
            **{f"{kind}_water_m3": float(values[month - 1]) for kind, values in water.items()},
        }
        for month in told.index
    )


def _water_by_month(result: DayFigures) -> FloatArray:
    """Water of months 1…12 [m³], without the rest of what `monthly` would work out."""
    month = np.asarray(result.dates.month)
    return np.bincount(month - 1, weights=result.daily_water_m3, minlength=12).astype(np.float64)


def _key(words: str) -> str:
    """Words as the name of a column."""
    return re.sub(r"\W+", "_", words.lower()).strip("_")
