"""Runs of rows and of days, and the dates of days in words."""

from __future__ import annotations

import datetime as dt

import numpy as np

from trackersim.arrays import BoolArray

Span = tuple[dt.date, dt.date]
# Spans of dates that a sentence names.
_TOLD = 3


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """Start and end (exclusive) of every run of true.

    >>> runs(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def spans_of(days: BoolArray, first: dt.date) -> tuple[Span, ...]:
    """Runs of true days (days,), counted from the date `first`, as dates."""
    day = dt.timedelta(days=1)
    return tuple((first + start * day, first + (end - 1) * day) for start, end in runs(days))


def outer_words(spans: tuple[Span, ...]) -> str:
    """The first and the last day of some spans: "2025-06-10 to 2025-07-01"; "" for none."""
    return span_words(((spans[0][0], spans[-1][1]),)) if spans else ""


def span_words(spans: tuple[Span, ...]) -> str:
    """ "2025-06-10 to 2025-06-16; 2025-07-01; …"."""
    told = [f"{first}" if first == last else f"{first} to {last}" for first, last in spans[:_TOLD]]
    return "; ".join([*told, "…"] if len(spans) > _TOLD else told)
