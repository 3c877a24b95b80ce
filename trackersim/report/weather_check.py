"""What was found in a job's weather, worded: a table, the remarks that every result carries, its hours as a picture."""

from __future__ import annotations

import datetime as dt

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from trackersim.analysis.weather_check import WeatherCheck
from trackersim.arrays import BoolArray
from trackersim.clock import offset_words
from trackersim.errors import counted
from trackersim.report.blocks import Answer, Block, Caution, Note, Picture, Sentence, Table
from trackersim.report.figures import WIDTH_IN, new_figure, plain_text
from trackersim.report.lettering import printable
from trackersim.report.remarks import remark
from trackersim.units import System, own_first

_DOUBTFUL, _FILLED = "#e4003a", "#ffffff"
_DAYS_TOLD = 3


def weather_answer(check: WeatherCheck, system: System) -> Answer:
    """Whether the weather can be true, what was found and done, and the picture of its hours."""
    said = [(notice.level, remark(notice, system)) for notice in check.weather.notices]
    return Answer(
        headline=_headline(check),
        dangers=tuple(block for level, block in said if level == "danger" and isinstance(block, Caution)),
        blocks=(
            *_table(check, system),
            *(block for level, block in said if level == "caution"),
            *(block for level, block in said if level == "note"),
            *_looked_at(check),
            Picture(draw=lambda: carpet_figure(check), alt=carpet_alt(check), name="weather"),
            Note(text=f"weather {check.weather.name} {check.weather.sha256[:12]}"),
        ),
        summary=check.summary(),
    )


def _headline(check: WeatherCheck) -> str:
    weather, levels = check.weather, [notice.level for notice in check.weather.notices]
    if weather.inspection is None:
        return f"{check.job.site.name}: the job takes a clear sky that is made; there is no file to look at."
    file = f"{check.job.site.name}: {weather.name}, {counted(weather.days, 'day')},"
    grave, doubts = levels.count("danger"), levels.count("caution")
    if not grave + doubts:
        return f"{file} was looked at, and nothing speaks against it."
    faults = " and ".join(
        counted(number, word) for number, word in ((grave, "grave fault"), (doubts, "doubt")) if number
    )
    return f"{file} has {faults}: look at each before any figure from it is believed."


def _table(check: WeatherCheck, system: System) -> tuple[Block, ...]:
    if not check.rows:
        return ()
    header = ("What", "How many", "When", "What was done")
    title = f"Rows every {check.weather.step_min} min, {_days_words(check)}"
    cells = ((row.what, row.many, row.when, row.done) for row in check.rows)
    rows = tuple(tuple(own_first(cell, system) for cell in row) for row in cells)
    return (Table(header=header, rows=rows, title=title),)


def _looked_at(check: WeatherCheck) -> tuple[Block, ...]:
    """What the silence of the checks is worth."""
    if not check.looked_at:
        return ()
    text = f"Looked at: {'; '.join(check.looked_at)}."
    if check.unable:
        text += f" This file gives no ground to judge: {'; '.join(check.unable)}."
    return (Sentence(text=text),)


def _days_words(check: WeatherCheck) -> str:
    times = check.weather.times
    return f"{times[0].date()} to {times[-1].date()}, {offset_words(check.weather.utc_offset_h)}"


def carpet_figure(check: WeatherCheck) -> Figure:
    """Every hour of the weather as a field of colour, a column for each day; doubtful and filled hours stand out."""
    figure = new_figure(WIDTH_IN, 4.2)
    axes: Axes = figure.subplots()
    first = float(date2num(check.weather.times[0].date()))
    extent = (first, first + len(check.ghi_w_m2), 0.0, 24.0)
    drawn = axes.imshow(
        check.ghi_w_m2.T, origin="lower", aspect="auto", extent=extent, cmap="cividis", vmin=0, interpolation="nearest"
    )
    figure.colorbar(drawn, ax=axes, label="Global light, W/m²")
    marks = [("doubtful", check.doubtful, _DOUBTFUL), ("filled", check.filled, _FILLED)]
    for _, mask, colour in reversed(marks):
        shown = np.where(mask.T[:, :, None], np.array(to_rgba(colour)), 0.0)
        axes.imshow(shown, origin="lower", aspect="auto", extent=extent, interpolation="nearest")
    axes.set_yticks(range(0, 25, 4))
    axes.set_ylabel(f"Hour of the day, {offset_words(check.weather.utc_offset_h)}")
    locator = AutoDateLocator()
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))
    axes.set_title(plain_text(check.weather.name), loc="left")
    patches = [
        Patch(facecolor=colour, edgecolor="#555555", label=f"{name}: {counted(int(mask.sum()), 'hour')}")
        for name, mask, colour in marks
        if mask.any()
    ]
    if patches:
        figure.legend(handles=patches, loc="outside lower left", ncols=2, frameon=False)
    return figure


def carpet_alt(check: WeatherCheck) -> str:
    """For `carpet_figure`: the brightest hour, and which hours are marked."""
    day, hour = np.unravel_index(int(check.ghi_w_m2.argmax()), check.ghi_w_m2.shape)
    told = [
        f"The global light of {printable(check.weather.name)} as colour, days from left to right and hours upward, "
        f"{_days_words(check)}",
        f"The brightest hour has {check.ghi_w_m2.max():.0f} W/m², on {_date(check, int(day))} from {int(hour)} h",
    ]
    told += [_marked("doubtful", check.doubtful, check), _marked("filled", check.filled, check)]
    return ". ".join(part for part in told if part) + "."


def _marked(name: str, mask: BoolArray, check: WeatherCheck) -> str:
    if not mask.any():
        return f"No hour is marked as {name}"
    days = np.flatnonzero(mask.any(axis=1))
    dates = ", ".join(str(_date(check, int(day))) for day in days[:_DAYS_TOLD])
    more = f" and {len(days) - _DAYS_TOLD} more" if len(days) > _DAYS_TOLD else ""
    return f"Marked as {name}: {counted(int(mask.sum()), 'hour')} on {counted(len(days), 'day')} ({dates}{more})"


def _date(check: WeatherCheck, day: int) -> dt.date:
    return (check.weather.times[0] + dt.timedelta(days=day)).date()
