"""Work for several processes that ends its own from outside; light, since every process that begins imports it."""

from __future__ import annotations

import os
import signal
from collections.abc import Sequence
from pathlib import Path


class Squared:
    """Squares numbers; kills its own process at one of them, once or whenever it is asked."""

    def __init__(self, deadly: int, once: Path | None = None) -> None:
        self.deadly, self.once = deadly, once

    def __call__(self, batch: Sequence[int]) -> list[int]:
        for number in batch:
            if number == self.deadly and (self.once is None or not self.once.exists()):
                if self.once is not None:
                    self.once.touch()
                os.kill(os.getpid(), signal.SIGKILL)
        return [number * number for number in batch]
