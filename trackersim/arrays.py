"""What arrays are called in signatures; shapes stand in the docstrings."""

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
