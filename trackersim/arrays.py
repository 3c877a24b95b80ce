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


def between(values: FloatArray, index: IndexArray, share: FloatArray) -> FloatArray:
    """Values on a straight line between points of a grid.

    Parameters
    ----------
    values : FloatArray
        Shape (points,).
    index : IndexArray
        Any shape. Point at or before each place.
    share : FloatArray
        Of that shape. Share of the way to the next point.

    Returns
    -------
    FloatArray
        Of that shape.

    >>> between(np.array([1.0, 3.0, 3.0]), np.array([0, 1]), np.array([0.25, 0.5])).tolist()
    [1.5, 3.0]
    """
    low = values.take(index)
    return np.asarray(low + share * (values.take(index + 1) - low))
