"""What conductors, fuses and the disconnect of an array must at least be rated for, in the practice of the USA.

National Electrical Code, as magazines and tables print it (EC&M, "Article 690, solar photovoltaic systems, part 3";
the printed 310.16 and 240.6(A)), not read in the code itself:

* 690.8(A): the largest current of a circuit is 125 % of the short-circuit current of its modules' labels;
* 690.8(B), 690.9(B): fuses, and conductors before their correction for heat and for how many lie together, are rated
  for 125 % of that;
* 240.6(A): standard ratings of fuses; 240.4(D): the largest fuse before a thin conductor;
* 310.16: what a conductor bears at 30 °C with terminals of 60 °C, not more than three in a pipe. Aluminium as
  wiresizes.com and intrysys.com print the table of 2023 (older ones have 20 A for 12 AWG and 30 A for 8 AWG).

From memory alone: up to two strings side by side need no fuse of their own (690.9(A), exception); a disconnect must
bear the open-circuit voltage of the coldest day (690.7), and be made for direct current.
"""

from __future__ import annotations

from trackersim.job.gauges import AWG_AREA_MM2
from trackersim.power.wire import Material

_BRIGHT = 1.25
_STEADY = 1.25
_MOST_UNFUSED = 2
_FUSES_A = (
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500,
    600, 700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000,
)  # fmt: skip
# By gauge, 60 °C column; copper below the largest fuse that 240.4(D) allows before it where that is less.
BORNE_A: dict[Material, dict[str, int]] = {
    "copper": {
        "14": 15, "12": 20, "10": 30, "8": 40, "6": 55, "4": 70, "3": 85, "2": 95, "1": 110, "1/0": 125, "2/0": 145,
        "3/0": 165, "4/0": 195,
    },
    "aluminium": {
        "12": 15, "10": 25, "8": 35, "6": 40, "4": 55, "3": 65, "2": 75, "1": 85, "1/0": 100, "2/0": 115, "3/0": 130,
        "4/0": 150,
    },
}  # fmt: skip
# A gauge's area is often written with two digits.
_AREA_ROUNDED = 1.01


def largest_current_a(isc_a: float, *, in_parallel: int) -> float:
    """Largest current that a code expects of strings side by side: 125 % of what their labels say.

    Parameters
    ----------
    isc_a : float
        Short-circuit current on the label of one module [A].
    in_parallel : int
        Strings side by side.

    Returns
    -------
    float
        Current [A].
    """
    return _BRIGHT * isc_a * in_parallel


def least_rating_a(isc_a: float, *, in_parallel: int) -> float:
    """Least rating of conductor and fuse for these strings: 1.25 · 1.25 of their short-circuit current.

    Parameters
    ----------
    isc_a : float
        Short-circuit current on the label of one module [A].
    in_parallel : int
        Strings side by side.

    Returns
    -------
    float
        Current [A].

    Examples
    --------
    >>> round(least_rating_a(7.5, in_parallel=2), 2)
    23.44
    """
    return _STEADY * largest_current_a(isc_a, in_parallel=in_parallel)


def standard_fuse_a(least_a: float) -> int | None:
    """The smallest standard fuse that is large enough.

    Parameters
    ----------
    least_a : float
        Least rating [A], above 0.

    Returns
    -------
    int or None
        Rating [A]; None beyond the largest of 6000 A.

    Examples
    --------
    >>> standard_fuse_a(23.44)
    25
    """
    return next((fuse for fuse in _FUSES_A if fuse >= least_a), None)


def thinnest_gauge(least_a: float, material: Material = "copper") -> str | None:
    """The thinnest conductor that bears a current, before correction for heat and for its neighbours.

    Parameters
    ----------
    least_a : float
        Current that it must bear [A], above 0.
    material : Material
        Its metal.

    Returns
    -------
    str or None
        American wire gauge, to 4/0; None if none of those bears it.

    Examples
    --------
    >>> thinnest_gauge(23.44), thinnest_gauge(26, "aluminium")
    ('10', '8')
    """
    return next((gauge for gauge, ampere in BORNE_A[material].items() if ampere >= least_a), None)


def bears_current(least_a: float, *, area_mm2: float, material: Material) -> bool | None:
    """Whether a conductor bears a current, before correction for heat and for its neighbours.

    An area between two gauges counts as the thinner one.

    Parameters
    ----------
    least_a : float
        Current that it must bear [A], above 0.
    area_mm2 : float
        Its area [mm²].
    material : Material
        Its metal.

    Returns
    -------
    bool or None
        None where the table does not tell: a conductor thinner than all of it, for a current that its thinnest bears,
        or thicker than all of it, for one that its thickest does not bear.

    Examples
    --------
    >>> bears_current(23.44, area_mm2=6, material="copper"), bears_current(23.44, area_mm2=4, material="copper")
    (True, False)
    """
    borne = BORNE_A[material]
    areas = {gauge: AWG_AREA_MM2[gauge] for gauge in borne}
    if any(borne[gauge] >= least_a for gauge in borne if areas[gauge] <= area_mm2 * _AREA_ROUNDED):
        return True
    beyond = area_mm2 > max(areas.values()) * _AREA_ROUNDED
    below = area_mm2 * _AREA_ROUNDED < min(areas.values()) and least_a <= min(borne.values())
    return None if beyond or below else False


def strings_fused(in_parallel: int) -> bool:
    """Whether strings side by side need fuses of their own, since the others could feed a faulty one.

    Parameters
    ----------
    in_parallel : int
        Strings side by side.

    Returns
    -------
    bool
        True from three on.
    """
    return in_parallel > _MOST_UNFUSED
