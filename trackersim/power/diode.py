"""The single-diode model of one module (De Soto et al., Solar Energy 80, 2006)."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from pvlib import pvsystem

from trackersim.arrays import FloatArray

# Silicon, as in De Soto et al. (2006).
_BAND_GAP_EV, _BAND_GAP_PER_K = 1.121, -0.0002677


@dataclass(frozen=True, kw_only=True)
class Diode:
    """The single-diode model of one module: fitted to its label, as new, or `degraded`.

    `isc_a_per_k` is the change of the photocurrent with temperature. `relaxed` is true if the label contradicts itself
    by more than rounding and the nearest possible curve stands in for it.
    """

    isc_a_per_k: float
    light_a: float
    dark_a: float
    slope_v: float
    series_ohm: float
    shunt_ohm: float
    relaxed: bool

    def degraded(self, power_share: float) -> Diode:
        """The same module when it gives `power_share` of its power: that share of every current at the same voltages.

        Age and mismatch are taken from the current alone, an assumption: I(V) scales if both current parameters are
        multiplied and both resistances divided by the share.
        """
        return replace(
            self,
            isc_a_per_k=self.isc_a_per_k * power_share,
            light_a=self.light_a * power_share,
            dark_a=self.dark_a * power_share,
            series_ohm=self.series_ohm / power_share,
            shunt_ohm=self.shunt_ohm / power_share,
        )

    def at(self, absorbed_w_m2: FloatArray, cell_c: FloatArray, *, wire_ohm: float = 0.0) -> tuple[FloatArray, ...]:
        """Photocurrent [A], dark current [A], series and shunt resistance [Ω] and slope a [V]; shapes broadcast.

        De Soto et al. (2006); `wire_ohm` is added to the series resistance.
        """
        light, cell = np.broadcast_arrays(absorbed_w_m2, cell_c)
        values = pvsystem.calcparams_desoto(
            light,
            cell,
            self.isc_a_per_k,
            self.slope_v,
            self.light_a,
            self.dark_a,
            self.shunt_ohm,
            self.series_ohm + wire_ohm,
            EgRef=_BAND_GAP_EV,
            dEgdT=_BAND_GAP_PER_K,
        )
        return tuple(np.broadcast_to(np.asarray(value, dtype=float), light.shape) for value in values)
