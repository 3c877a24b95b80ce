"""What arrays are called in signatures, whose shapes stand in the docstrings; and reading a table by even steps.

Tables are read by compiled loops: array by array the same would go through memory five times as often.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from trackersim.compiled import compiled, kept
from trackersim.errors import InputError

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IndexArray = npt.NDArray[np.intp]


def component(vector: FloatArray, directions: FloatArray) -> FloatArray:
    """Dot product of one vector with many.

    Written without the matrix routine, which wakes all processors for three rows and takes four times as long.

    Parameters
    ----------
    vector : FloatArray
        Shape (3,).
    directions : FloatArray
        Shape (3, n).

    Returns
    -------
    FloatArray
        Shape (n,).

    >>> component(np.array([0.0, 0.0, 2.0]), np.eye(3)).tolist()
    [0.0, 0.0, 2.0]
    """
    return np.asarray(np.einsum("i,in->n", vector, directions))


def sealed(values: FloatArray) -> FloatArray:
    """The same numbers, not to be written into through what is returned: others share them.

    Parameters
    ----------
    values : FloatArray
        Any shape.

    Returns
    -------
    FloatArray
        A view.

    >>> sealed(np.zeros(2)).flags.writeable
    False
    """
    view = values.view()
    view.setflags(write=False)
    return view


def check_array(
    field: str,
    values: npt.ArrayLike,
    shape: Sequence[int | str] | None = None,
    *,
    least: float = -np.inf,
    most: float = np.inf,
) -> None:
    """Refuse an array that somebody gave and that a function cannot work on: numpy would not say which, nor why.

    Parameters
    ----------
    field : str
        What a fault names.
    values : npt.ArrayLike
        Numbers or truth values.
    shape : Sequence[int | str] | None
        Length of each axis, a name such as "n" for any; None for any shape.
    least : float
        The least value that makes sense.
    most : float
        The largest.

    Raises
    ------
    InputError
        For another shape, for what is no number, not finite, or beyond `least` and `most`.

    >>> check_array("day", [0, 5], ("n",), least=0, most=3)
    Traceback (most recent call last):
    trackersim.errors.InputError: day = 5: is not within 0…3 (place 1, counted from 0). Give numbers within 0…3.
    """
    try:
        found = np.asarray(values)
    except ValueError:  # rows of several lengths
        found = np.empty(0, dtype=object)
    if found.dtype.kind not in "biuf":
        raise InputError.of(field, None, "holds something that is no number.", "Give an array of numbers.")
    if shape is not None and not _is_of(found.shape, shape):
        wanted = f"({', '.join(map(str, shape))}{',' * (len(shape) == 1)})"
        raise InputError.of(field, found.shape, "is not its shape.", f"Give an array {wanted}.")
    # Every stage of a simulation asks: least and largest, NaN where there is any, cost a third of all truth values.
    ends = (found.min(), found.max()) if found.size else ()
    if all(np.isfinite(end) and least <= end <= most for end in ends):
        return
    sound = np.isfinite(found) & (found >= least) & (found <= most)
    place = tuple(np.argwhere(~sound)[0].tolist())
    where = f" (place {', '.join(map(str, place))}, counted from 0)" if place else ""
    wanted, such = "finite", "finite numbers"
    if least > -np.inf:
        wanted = f"within {least:g}…{most:g}" if most < np.inf else f"{least:g} or more"
        such = f"numbers {wanted}" if most < np.inf else f"numbers of {wanted}"
    raise InputError.of(field, found[place].item(), f"is not {wanted}{where}.", f"Give {such}.")


def _is_of(shape: Sequence[int], wanted: Sequence[int | str]) -> bool:
    """Whether an array's shape is the wanted one, in which a name stands for any length."""
    if len(shape) != len(wanted):
        return False
    return all(isinstance(any_or, str) or any_or == length for length, any_or in zip(shape, wanted, strict=True))


def place_on_grid(at: FloatArray, *, steps: int) -> tuple[IndexArray, FloatArray]:
    """Point of a grid of even steps at or before a place, and the share of the way to the next.

    Parameters
    ----------
    at : FloatArray
        Any shape. Places in steps from the first point, 0…`steps`.
    steps : int
        Steps of the grid.

    Returns
    -------
    tuple[IndexArray, FloatArray]
        Each of that shape; the last point is the end of the last step.

    >>> [values.tolist() for values in place_on_grid(np.array([0.0, 1.25, 2.0]), steps=2)]
    [[0, 1, 1], [0.0, 0.25, 1.0]]
    """
    at = np.ascontiguousarray(at, dtype=float)
    index, share = np.empty(at.shape, dtype=np.intp), np.empty(at.shape)
    _place(at.reshape(-1), steps, index.reshape(-1), share.reshape(-1))
    return index, share


@kept
def _place(at: FloatArray, steps: int, index: IndexArray, share: FloatArray) -> None:
    for n in range(len(at)):
        index[n] = max(min(int(at[n]), steps - 1), 0)
        share[n] = at[n] - index[n]


def between(values: FloatArray, index: IndexArray, share: FloatArray, *, step: int = 1) -> FloatArray:
    """Values on a straight line between points of a grid.

    Parameters
    ----------
    values : FloatArray
        Any shape, counted through as one row of points.
    index : IndexArray
        Any shape. Point at or before each place.
    share : FloatArray
        Of that shape. Share of the way to the next point.
    step : int
        How many points further the next one stands: 1 along the last axis of a table, its columns along the one before.

    Returns
    -------
    FloatArray
        Of that shape.

    >>> between(np.array([1.0, 3.0, 3.0]), np.array([0, 1]), np.array([0.25, 0.5])).tolist()
    [1.5, 3.0]
    """
    shape = index.shape
    found = np.empty(shape)
    _between(_row(values), _row(index), _row(share, shape), step, found.reshape(-1))
    return found


@kept
def _between(values: FloatArray, index: IndexArray, share: FloatArray, step: int, found: FloatArray) -> None:
    _check_within(index, len(values))
    for n in range(len(found)):
        found[n] = _on_line(values, index[n], step, share[n])


@compiled
def _check_within(index: IndexArray, points: int) -> None:
    """Compiled code would read from anywhere; asked once, since a loop in which something may be raised is slow."""
    lowest = highest = 0
    for n in range(len(index)):
        lowest, highest = min(lowest, index[n]), max(highest, index[n])
    if lowest < 0 or highest >= points:
        raise IndexError("a place beyond the table")


@compiled
def _on_line(values: FloatArray, low: int, step: int, share: float) -> float:
    """Between two of the values; there may be one only."""
    found: float = values[low] + (values[min(low + step, len(values) - 1)] - values[low]) * share
    return found


def _row(values: npt.NDArray[Any], shape: tuple[int, ...] | None = None) -> npt.NDArray[Any]:
    """An array as one row, brought to a shape before."""
    whole = values if shape is None else np.broadcast_to(values, shape)
    return np.ascontiguousarray(whole).reshape(-1)


def within_cell(values: FloatArray, index: IndexArray, down: FloatArray, right: FloatArray) -> FloatArray:
    """Values between the four points around each place of a table: on straight lines along either axis.

    Parameters
    ----------
    values : FloatArray
        Shape (rows, columns).
    index : IndexArray
        Any shape. Point at or before each place along both axes: row · columns + column.
    down : FloatArray
        Of that shape. Share of the way to the next row.
    right : FloatArray
        Of that shape. Share of the way to the next column.

    Returns
    -------
    FloatArray
        Of that shape.

    >>> within_cell(np.array([[0.0, 2.0], [4.0, 6.0]]), np.array([0]), np.array([0.5]), np.array([0.25])).tolist()
    [2.5]
    """
    shape = index.shape
    found = np.empty(shape)
    _within(_row(values), _row(index), _row(down, shape), _row(right, shape), values.shape[1], found.reshape(-1))
    return found


@kept
def _within(
    values: FloatArray, index: IndexArray, down: FloatArray, right: FloatArray, columns: int, found: FloatArray
) -> None:
    _check_within(index, len(values) - columns)
    for n in range(len(found)):
        upper = _on_line(values, index[n], 1, right[n])
        lower = _on_line(values, index[n] + columns, 1, right[n])
        found[n] = upper + (lower - upper) * down[n]
