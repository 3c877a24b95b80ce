"""Pages of US letter filled from the top: paragraphs, tables and room for pictures, none of it past the edge.

Text is drawn as text, whatever characters it holds, and measured before it is placed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from trackersim.report.lettering import FAMILY, shortened, width_in, wrapped

PAGE_IN = (8.5, 11.0)
MARGIN_IN = 0.7
ROOM_IN = PAGE_IN[0] - 2 * MARGIN_IN
_FOOT_IN = 0.85  # where the text ends, above the page's foot
_LINE, _INK, _RULE = 1.28, "#111111", "#9a9a9a"
_COLUMN_GAP_IN = 0.14
_POINTS = 72.0
_BULLET_IN = 0.14
# Paragraphs up to this long are not broken between pages.
_TOGETHER_LINES = 14
_CELL_LINES = 12


class Sheet:
    """Pages, and the place [inch from the top] where the next thing goes."""

    def __init__(self) -> None:
        self.pages: list[Figure] = []
        self.new_page()

    def new_page(self) -> None:
        """Go on at the top of a new page."""
        self.pages.append(Figure(figsize=PAGE_IN, facecolor="white"))
        self.at_in = MARGIN_IN

    @property
    def left_in(self) -> float:
        """Height left on this page."""
        return PAGE_IN[1] - _FOOT_IN - self.at_in

    def gap(self, height_in: float) -> None:
        """Some white."""
        self.at_in += height_in

    def need(self, height_in: float) -> None:
        """A new page unless this much is left."""
        if self.left_in < height_in:
            self.new_page()

    def text(
        self, words: str, *, size_pt: float, bold: bool = False, bullet: bool = False, most_lines: int | None = None
    ) -> None:
        """A paragraph over the whole width; beyond `most_lines` it ends in an ellipsis."""
        indent = _BULLET_IN if bullet else 0.0
        lines = _lines(words, size_pt=size_pt, room_in=ROOM_IN - indent, bold=bold, most=most_lines)
        if len(lines) <= _TOGETHER_LINES:
            self.need(len(lines) * size_pt * _LINE / _POINTS)
        for number, line in enumerate(lines):
            self.need(size_pt * _LINE / _POINTS)
            if bullet and number == 0:
                self._put("–", MARGIN_IN, size_pt=size_pt)
            self._put(line, MARGIN_IN + indent, size_pt=size_pt, bold=bold)
            self.at_in += size_pt * _LINE / _POINTS

    def heading(self, words: str, *, size_pt: float) -> None:
        """A heading with a line under it, never alone at the end of a page."""
        self.need(5 * size_pt * _LINE / _POINTS)
        self.gap(0.09)
        self.text(words, size_pt=size_pt, bold=True)
        self._rule(self.at_in + 0.01)
        self.gap(0.06)

    def table(self, rows: Sequence[Sequence[str]], *, size_pt: float, head: bool = True, left: int = 1) -> None:
        """Rows of cells, the first row in bold if `head`; the first `left` columns run from the left, others end right.

        Cells wider than their column are broken into lines, at most twelve. The head is repeated on every page.
        """
        widths = column_widths_in(rows, size_pt=size_pt)
        self.gap(0.03)
        # The head does not stand alone at the end of a page.
        self.need(sum(self._row_height_in(row, widths, size_pt=size_pt, bold=head) for row in rows[:3]) + 0.05)
        for number, row in enumerate(rows):
            bold = head and number == 0
            height = self._row_height_in(row, widths, size_pt=size_pt, bold=bold)
            if self.left_in < height and number:
                self.new_page()
                if head:
                    self._row(rows[0], widths, size_pt=size_pt, bold=True, left=left)
            self._row(row, widths, size_pt=size_pt, bold=bold, left=left)
        self.gap(0.05)

    def _row_height_in(self, row: Sequence[str], widths: Sequence[float], *, size_pt: float, bold: bool) -> float:
        cells = [
            _lines(cell, size_pt=size_pt, room_in=room, bold=bold, most=_CELL_LINES)
            for cell, room in zip(row, widths, strict=True)
        ]
        return max(1, *map(len, cells)) * size_pt * _LINE / _POINTS

    def _row(self, row: Sequence[str], widths: Sequence[float], *, size_pt: float, bold: bool, left: int) -> None:
        start, top = MARGIN_IN, self.at_in
        for number, (cell, room) in enumerate(zip(row, widths, strict=True)):
            self.at_in = top
            for line in _lines(cell, size_pt=size_pt, room_in=room, bold=bold, most=_CELL_LINES):
                aside = 0.0 if number < left else room - width_in(line, size_pt=size_pt, bold=bold)
                self._put(line, start + aside, size_pt=size_pt, bold=bold)
                self.at_in += size_pt * _LINE / _POINTS
            start += room + _COLUMN_GAP_IN
        self.at_in = top + self._row_height_in(row, widths, size_pt=size_pt, bold=bold)
        if bold:
            self._rule(self.at_in)
            self.gap(0.03)

    def picture(self, *, left_in: float, width_in: float, height_in: float) -> Axes:
        """Axes `left_in` from the margin, from here down by `height_in`; the place stays where it is."""
        bottom = PAGE_IN[1] - self.at_in - height_in
        box = (MARGIN_IN + left_in, bottom, width_in, height_in)
        shares = tuple(np.array(box) / np.array([*PAGE_IN, *PAGE_IN]))
        axes: Axes = self.pages[-1].add_axes((shares[0], shares[1], shares[2], shares[3]))
        return axes

    def feet(self, words: str) -> None:
        """A foot on every page: a line to trace it by, and its number."""
        for number, page in enumerate(self.pages):
            foot = PAGE_IN[1] - 0.5
            count = f"page {number + 1} of {len(self.pages)}"
            line = shortened(words, size_pt=7, room_in=ROOM_IN - 1.0)
            _write(page, line, MARGIN_IN, foot, size_pt=7)
            _write(page, count, PAGE_IN[0] - MARGIN_IN - width_in(count, size_pt=7), foot, size_pt=7)

    def _put(self, line: str, x_in: float, *, size_pt: float, bold: bool = False) -> None:
        _write(self.pages[-1], line, x_in, self.at_in + size_pt / _POINTS, size_pt=size_pt, bold=bold)

    def _rule(self, at_in: float) -> None:
        height = 1 - at_in / PAGE_IN[1]
        ends = (MARGIN_IN / PAGE_IN[0], 1 - MARGIN_IN / PAGE_IN[0])
        self.pages[-1].add_artist(Line2D(ends, (height, height), color=_RULE, linewidth=0.6))


def _lines(words: str, *, size_pt: float, room_in: float, bold: bool, most: int | None) -> list[str]:
    """The lines of a paragraph, of which `most` are kept, with an ellipsis at the end of what was cut."""
    lines = wrapped(words, size_pt=size_pt, room_in=room_in, bold=bold)
    if most is None or len(lines) <= most:
        return lines
    room = room_in - width_in(" …", size_pt=size_pt, bold=bold)
    last = shortened(lines[most - 1], size_pt=size_pt, room_in=room, bold=bold)
    return [*lines[: most - 1], last.rstrip(" …") + " …"]


def _write(page: Figure, line: str, x_in: float, baseline_in: float, *, size_pt: float, bold: bool = False) -> None:
    page.text(
        x_in / PAGE_IN[0],
        1 - baseline_in / PAGE_IN[1],
        line,
        fontsize=size_pt,
        family=FAMILY,
        weight="bold" if bold else "normal",
        color=_INK,
        va="baseline",
        parse_math=False,
    )


def column_widths_in(rows: Sequence[Sequence[str]], *, size_pt: float) -> list[float]:
    """Width of each column [inch]: as wide as its widest cell, the widest ones narrowed until all fit the page."""
    columns = list(zip(*rows, strict=True))
    room = ROOM_IN - _COLUMN_GAP_IN * (len(columns) - 1)
    wide = [max(_bold_width_in(cell, size_pt, room) for cell in column) + 0.02 for column in columns]
    # The widest columns share what the narrow ones leave.
    left, count = room, len(wide)
    for width in sorted(wide):
        if width * count >= left:
            break
        left, count = left - width, count - 1
    cap = left / count if count else room
    return [min(width, cap) for width in wide]


def _bold_width_in(cell: str, size_pt: float, room_in: float) -> float:
    return width_in(shortened(cell, size_pt=size_pt, room_in=room_in, bold=True), size_pt=size_pt, bold=True)
