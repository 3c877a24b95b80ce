"""What arrays are called in signatures, whose shapes stand in the docstrings; and reading a table by even steps."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

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
    index = np.minimum(at.astype(np.intp), steps - 1)
    return index, at - index


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
    low, found = values.take(index), values.take(index + step)
    found -= low
    found *= share
    found += low
    return np.asarray(found)


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
    upper, found = between(values, index, right), between(values, index + values.shape[1], right)
    found -= upper
    found *= down
    found += upper
    return found
