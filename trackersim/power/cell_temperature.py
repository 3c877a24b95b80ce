"""Temperature of the cells from light, air and wind."""

from __future__ import annotations

from trackersim.arrays import FloatArray


def cell_temperature_c(
    *, plane_w_m2: FloatArray, air_c: FloatArray, wind_m_s: FloatArray, faiman_u0: float, faiman_u1: float
) -> FloatArray:
    """Faiman's model (Prog. Photovolt. 16, 2008): air + light / (u0 + u1 · wind). All (n,).

    Parameters
    ----------
    plane_w_m2 : FloatArray
        Shape (n,). Light on the module plane [W/m²].
    air_c : FloatArray
        Shape (n,). Temperature of the air [°C].
    wind_m_s : FloatArray
        Shape (n,). Wind speed at the height of the modules [m/s]. The factors hold for the height at which the wind was
        measured that they were found with (pvlib's documentation of `faiman`); that this was near the modules is an
        assumption.
    faiman_u0 : float
        Heat loss factor [W/(m²·K)].
    faiman_u1 : float
        Heat loss factor with wind [W/(m²·K) per m/s].

    Returns
    -------
    FloatArray
        Shape (n,) [°C].
    """
    return air_c + plane_w_m2 / (faiman_u0 + faiman_u1 * wind_m_s)
