"""The stage of the moving picture: what stands still on a day is drawn once, what moves again for every minute."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from trackersim.job.rack import PASSIVE
from trackersim.report.animation.morning_parts import (
    DPI,
    HEIGHT_IN,
    WIDTH_IN,
    FlowDiagram,
    draw_head_moving,
    draw_head_still,
    draw_pipe_moving,
    draw_pipe_still,
    draw_sky_moving,
    draw_sky_still,
)
from trackersim.report.animation.rack_drawing import draw_ghost, draw_rack_moving, draw_rack_still
from trackersim.report.lettered_figure import LetteredFigure, set_letters
from trackersim.report.moment import RackMinute, day_sky, moment_of
from trackersim.simulation.result import Result
from trackersim.units import System

# Lower left corner, width and height of the two parts, in shares of the picture.
_SKY, _GROUND = (0.095, 0.715, 0.885, 0.16), (0.0, 0.0, 1.0, 0.67)


class Stage:
    """One day (from 0) of a result. Raises `ValueError` outside it.

    `prompt` is the same days with a rack that turns at once: its ghost and the water lost against it are drawn too.
    """

    def __init__(self, result: Result, day: int, system: System, prompt: Result | None = None) -> None:
        self._prompt = prompt
        self._result, self._day, self._system = result, day, system
        self.sky = day_sky(result, day)
        self.figure = LetteredFigure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI, facecolor="white")
        self._canvas = FigureCanvasAgg(self.figure)
        self._above, self._ground = self.figure.add_axes(_SKY), self.figure.add_axes(_GROUND)
        self._flow = FlowDiagram(result, day, prompt)
        self._background: Any = None
        history = result.canisters
        warmth_c = history.canister_c[:, day] if history is not None else np.zeros(1)
        self._warmth_c = float(warmth_c.min()), float(warmth_c.max())
        draw_head_still(self.figure, result)
        draw_sky_still(self._above, self.sky)
        watched = result.rack in PASSIVE and history is None
        draw_rack_still(self._ground, self.sky, watched=watched, ghost=prompt is not None)
        draw_pipe_still(self._ground)
        self._flow.draw_still(self._ground, system)

    def moment(self, minute: int) -> RackMinute:
        """A minute of the day in numbers. Raises `ValueError` outside the day."""
        return moment_of(self._result, self._day, minute, self.sky)

    def ghost(self, minute: int) -> RackMinute | None:
        """The same minute on the rack that turned at once; None without one."""
        return None if self._prompt is None else moment_of(self._prompt, self._day, minute, self.sky)

    def put(self, minute: int) -> list[Artist]:
        """Put what moves in place as it is at `minute`; gives it, the undermost first."""
        now = self.moment(minute)
        still = set(map(id, self._artists()))
        draw_head_moving(self.figure, now, self._system)
        draw_sky_moving(self._above, now)
        if (ghost := self.ghost(minute)) is not None:
            draw_ghost(self._ground, now.rotation_deg, ghost.rotation_deg, self.sky)
        draw_rack_moving(self._ground, now, self.sky, self._warmth_c, self._system)
        draw_pipe_moving(self._ground, now, self._flow.best_m3_s, self._system)
        self._flow.draw_moving(self._ground, minute)
        moving = sorted((artist for artist in self._artists() if id(artist) not in still), key=lambda a: a.get_zorder())
        for artist in moving:
            set_letters(artist)
        return moving

    def _artists(self) -> list[Artist]:
        # What moves lies within its own part, so that the order between parts does not matter.
        return [
            *self.figure.texts,
            *(artist for axes in (self._above, self._ground) for artist in axes.get_children()),
        ]

    def picture(self, minute: int) -> Image.Image:
        """The pixels of `minute`; nothing that moves is left behind."""
        if self._background is None:
            self._canvas.draw()
            self._background = self._canvas.copy_from_bbox(self.figure.bbox)
        self._canvas.restore_region(self._background)
        renderer = self._canvas.get_renderer()
        for artist in self.put(minute):
            artist.draw(renderer)
            artist.remove()
        return Image.fromarray(np.asarray(self._canvas.buffer_rgba())[:, :, :3].copy())
