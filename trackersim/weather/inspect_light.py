"""The checks of light over a whole file: each gives a `Finding`, None, or "unable"."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.errors import counted
from trackersim.weather import light_checks
from trackersim.weather.closure import Components, diagnose, outside, unclosed_days, usable
from trackersim.weather.closure_words import cause_words
from trackersim.weather.file_rows import FileRows
from trackersim.weather.findings import Check, Finding, Outcome, graded, throughout
from trackersim.weather.limits import CLOSURE, DARK, ENVELOPE, STUCK
from trackersim.weather.raw import LIGHT
from trackersim.weather.spans import Span, span_words, spans_of

_NAMES = {"ghi": "global light", "dni": "direct light", "dhi": "diffuse light"}


def measured_together(rows: FileRows) -> Components | None:
    """Light where the file has all three measures and the sun is high enough, zero elsewhere (n,); None if nowhere."""
    measured = np.isfinite([rows.slots.columns[name] for name in LIGHT]).all(axis=0)
    told = measured & usable(up_share=rows.sky.up_share, cos_zenith=rows.sky.cos_zenith)
    ghi, dni, dhi = (np.where(told, rows.light[name], 0.0) for name in LIGHT)
    light = Components(ghi=ghi, dni=dni, dhi=dhi, sun=rows.sky.sun)
    return light if (light.ghi + light.sum).any() else None


def check_closure(rows: FileRows) -> Outcome:
    """GHI against DNI · cos z + DHI: by the day, over the whole file, and row by row."""
    light = measured_together(rows)
    if light is None:
        return "unable"
    ghi, total = rows.daily(light.ghi), rows.daily(light.sum)
    larger = np.maximum(ghi, total)
    bad = unclosed_days(ghi, total)
    whole = float((ghi - total).sum() / larger.sum())
    scatter = float(np.abs(light.gap).sum() / np.maximum(light.ghi, light.sum).sum())
    throughout = abs(whole) > CLOSURE["whole"].value or scatter > CLOSURE["scatter"].value
    if not bad.any() and not throughout:
        return None
    lit = light.ghi + light.sum > 0
    # A fault that runs through the file may show above the limit on its clear days only: all rows tell its cause.
    told = rows.rows_of(bad) & lit if bad.any() and not throughout else lit
    cause = diagnose(light.where(told), latitude_deg=rows.latitude_deg)
    if cause.cause == "unknown" and bad.any():
        cause = diagnose(light.where(rows.rows_of(bad) & lit), latitude_deg=rows.latitude_deg)
    share = max(float(np.abs(ghi - total)[bad].sum() / larger.sum()), abs(whole))
    spans = spans_of(bad, rows.first_day)
    if bad.any() or abs(whole) > CLOSURE["whole"].value:
        gap = _gap_words(ghi, total, bad, spans)
    else:
        gap = (
            f"Row by row global light misses what direct and diffuse light add up to by {100 * scatter:.0f} % of it, "
            f"although the days agree; good sensors stay within {100 * CLOSURE['scatter'].value:.0f} %."
        )
    text = f"{gap} {cause_words(cause)} The file was used as it is{_in_doubt(share)}"
    level = graded(share, CLOSURE, least="caution" if throughout else "note")
    doubtful = outside(light) if throughout else outside(light) & rows.rows_of(bad)
    return Finding(
        check="closure", level=level, days=int(bad.sum()), spans=spans, share=share, text=text, rows=doubtful
    )


def _gap_words(ghi: FloatArray, total: FloatArray, bad: BoolArray, spans: tuple[Span, ...]) -> str:
    """How far global light lies from the sum of the others: on the days that do not close, or over the file."""
    days = bad if bad.any() else np.ones_like(bad)
    gap = float((ghi - total)[days].sum() / np.maximum(ghi, total)[days].sum())
    side = "above" if gap > 0 else "below"
    when = f"on {counted(int(bad.sum()), 'day')} ({span_words(spans)})" if bad.any() else "over the whole file"
    within = CLOSURE["day" if bad.any() else "whole"].value
    return (
        f"Global light lies {100 * abs(gap):.0f} % {side} what direct and diffuse light add up to, {when}; good "
        f"sensors agree within {100 * within:.0f} %."
    )


def _in_doubt(share: float) -> str:
    if share < CLOSURE["caution"].value / 2:
        return "."
    return f": about {100 * share:.2g} % of its light is in doubt, and more of the water."


def check_dark_days(rows: FileRows) -> Outcome:
    """Days without light, or far darker than the days about them."""
    ghi, clear = rows.ghi_kwh_m2, rows.clear_kwh_m2
    unlit = light_checks.unlit_days(ghi, clear)
    dark = unlit | light_checks.dim_days(ghi, clear)
    if not dark.any():
        return None
    share = light_checks.light_lacking(ghi, clear, dark)
    spans = spans_of(dark, rows.first_day)
    kind = "without light" if unlit.sum() == dark.sum() else "without light or far darker than any near them"
    text = (
        f"{counted(int(dark.sum()), 'day')} {kind} ({span_words(spans)}): no cloud is that dark, a logger or sensor "
        f"that stood still is. They were used as they are and lack about {100 * share:.2g} % of the light. Take the "
        "days out or bring another file."
    )
    level = graded(share, DARK, least="caution" if unlit.any() else "note")
    doubtful = rows.rows_of(dark) & (rows.sky.clear["ghi"] > 0)
    return Finding(
        check="dark_days", level=level, days=int(dark.sum()), spans=spans, share=share, text=text, rows=doubtful
    )


def check_zeros(rows: FileRows) -> Outcome:
    """Rows of exactly no light by full day, on days that have light otherwise."""
    clear, ghi = rows.sky.clear["ghi"], rows.light["ghi"]
    dark = rows.rows_of(light_checks.unlit_days(rows.ghi_kwh_m2, rows.clear_kwh_m2))
    zero = light_checks.zeros_by_day(ghi, clear, rows.sky.up_share) & ~dark
    if not zero.any():
        return None
    rest = ~zero & ~dark
    usual = float(ghi[rest].sum() / max(float(clear[rest].sum()), 1e-9))
    lacking = usual * float(clear[zero].sum())
    share = lacking / max(lacking + float(ghi.sum()), 1e-9)
    text = (
        f"{counted(int(zero.sum()), 'row')} have no light at all under a high sun: the logger wrote zero where it had "
        f"nothing. About {100 * share:.2g} % of the light is lacking. Leave such cells empty, and they are filled."
    )
    return _over_days(rows, "zeros", zero, share, text)


def check_stuck_light(rows: FileRows) -> Outcome:
    """Light that stays exactly the same while the sun moves."""
    clear, up, step = rows.sky.clear["ghi"], rows.sky.up_share, rows.slots.step_min
    masks = {
        name: light_checks.stuck_light(np.nan_to_num(rows.slots.columns[name]), clear, up, step_min=step)
        for name in LIGHT
    }
    stuck = np.logical_or.reduce(list(masks.values()))
    if not stuck.any():
        return None
    share = float(clear[stuck].sum() / max(float(clear.sum()), 1e-9))
    names = ", ".join(_NAMES[name] for name, mask in masks.items() if mask.any())
    verb = "stays" if names.count(" ") == 1 else "stay"
    text = (
        f"{names.capitalize()} {verb} exactly the same for over {STUCK['light'].value / 60:.0f} h while the sun moves, "
        f"in {counted(int(stuck.sum()), 'row')} ({100 * share:.2g} % of the clear sky's light): a sensor or logger "
        "that hangs. It was used as it is. Leave such cells empty, or take the days out."
    )
    return _over_days(rows, "stuck_light", stuck, share, text)


def check_envelope(rows: FileRows) -> Outcome:
    """The level of cloudless days against the clear sky: a wrong scale of all sensors, dirt, another height."""
    level = light_checks.envelope_level(_levels(rows))
    if level is None:
        return "unable"
    if ENVELOPE["low_note"].value <= level <= ENVELOPE["high_note"].value:
        return None
    within = ENVELOPE["low"].value <= level <= ENVELOPE["high"].value
    text = (
        f"On days that look cloudless the global light is {100 * level:.0f} % of the clear sky's over this place: "
        "the sensor's factor, its dirt, the unit or the height of the place is wrong. The file was used as it is."
    )
    return throughout(rows, "envelope", text, share=abs(1 - level), level="note" if within else "caution")


def check_drift(rows: FileRows) -> Outcome:
    """The level of cloudless days at the year's end against its start."""
    drift = light_checks.envelope_drift(_levels(rows))
    if drift is None:
        return "unable"
    if abs(drift) <= ENVELOPE["drift"].value:
        return None
    word = "more" if drift > 0 else "less"
    text = (
        f"Cloudless days at the end of the year have {100 * abs(drift):.0f} % {word} light than at its start, in the "
        "same season: the sensor drifts, or was cleaned or exchanged between. The file was used as it is."
    )
    return throughout(rows, "drift", text, share=abs(drift) / 2)


def _levels(rows: FileRows) -> FloatArray:
    return light_checks.clear_levels(rows.light["ghi"], rows.sky.clear["ghi"], per_day=rows.slots.per_day)


def _over_days(rows: FileRows, check: Check, mask: BoolArray, share: float, text: str) -> Finding:
    days = rows.days_with(mask)
    spans = spans_of(days, rows.first_day)
    when = f" On {counted(int(days.sum()), 'day')}: {span_words(spans)}."
    level = graded(share, DARK)
    return Finding(
        check=check, level=level, days=int(days.sum()), spans=spans, share=share, text=text + when, rows=mask
    )
