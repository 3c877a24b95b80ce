"""A figure in the program's own letters, with matplotlib's settings, everybody's in the process, left as they are."""

from __future__ import annotations

from typing import Any

from matplotlib.artist import Artist
from matplotlib.figure import Figure
from matplotlib.text import Text

from trackersim.report.lettering import families


class LetteredFigure(Figure):
    """A `Figure` whose words are set in the shipped typeface, whoever draws it and whatever the settings are."""

    def draw(self, renderer: Any) -> None:
        """Draw everything; only now are all words there, those of the axes among them."""
        set_letters(self)
        super().draw(renderer)


def set_letters(drawn: Artist) -> None:
    """Give the words in a part of a figure the shipped typeface."""
    for words in drawn.findobj(Text):
        words.set_fontfamily(families())
