"""What the fixture `ray` gives, for the hints of tests that use it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Ray = Callable[[npt.ArrayLike, npt.ArrayLike], npt.NDArray[np.float64]]
