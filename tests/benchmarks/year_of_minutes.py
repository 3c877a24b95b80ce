"""A year of minutes on three and four racks with trees and a pump, against a plain pvlib chain for one ideal rack.

Run by hand: `python tests/benchmarks/year_of_minutes.py`. Prints one JSON object, which `--keep` keeps for this
version; asserts nothing. Both chains run in this process on the same minutes. The plain chain starts from minutes in
memory; the racks also read the weather file and spread its hours over minutes. Processor seconds are those of one
thread on either side: two threads that share a core take more of them for the same work. What a user waits for
`compare`, with its threads, is told by the clock. Both chains keep the memory that
their arrays free, as the command line does.

The plain chain is what pvlib's documentation shows: its default sun (SPA), and the diode solved by Newton, its fastest
general method, in every minute. The spare chain is as fast as documented use gets: the sun by `ephemeris`, which
is off by hundredths of a degree where ours follows SPA, and the diode in lit minutes only. Ratios to both are printed.
"""

from __future__ import annotations

import resource
import statistics
import time
from collections.abc import Callable
from functools import partial

import keeping
import numpy as np
import pandas as pd
from pvlib import atmosphere, irradiance, pvsystem, solarposition, temperature, tracking

from trackersim import compare, load_job, simulate
from trackersim.job.array import Array
from trackersim.job.files import with_overrides
from trackersim.memory import keep_freed
from trackersim.power import module_table
from trackersim.power.diode import Diode
from trackersim.power.label_fit import fit_label
from trackersim.simulation.runner import Runner, on_rack
from trackersim.simulation.scene import make_scene
from trackersim.weather import clearsky, load
from trackersim.weather.weather import Weather

ROUNDS = 3

TWELVE_MODULES = {"array.in_series": 4, "array.in_parallel": 3, "array.layout.rows": 3, "array.layout.columns": 4}
# bearing, distance, height, width [m]; invented
_TREES = ((60, 25, 9, 6), (75, 18, 8, 5), (92, 27, 9.7, 36), (105, 20, 7, 5), (128, 18, 9, 5), (180, 30, 10, 6),
          (250, 25, 9, 6), (270, 40, 12, 30))  # fmt: skip
EIGHT_TREES = [
    {"kind": "row" if width > 20 else "tree", "bearing": bearing, "distance": distance, "height": height,
     "width": width, "crown_base": 1}
    for bearing, distance, height, width in _TREES
]  # fmt: skip
SUMP_AND_TANK = {
    "source.kind": "sump", "source.volume": 4, "source.inflow": 12, "store.capacity": 20, "pump.cutout_tries": 3,
}  # fmt: skip


def plain_chain(weather: Weather, fitted: Diode, *, spare: bool = False) -> float:
    """Solar position, single-axis tracking, Perez, Faiman, De Soto maximum power; kWh of one module.

    `spare`: with a quicker, coarser sun, and nothing worked out for the dark.
    """
    times = weather.times
    ghi, dni, dhi = (pd.Series(a, times) for a in (weather.ghi_w_m2, weather.dni_w_m2, weather.dhi_w_m2))
    method = "ephemeris" if spare else "nrel_numpy"
    sun = solarposition.get_solarposition(times, 36.10, -79.95, altitude=271, method=method)
    rack = tracking.singleaxis(sun["apparent_zenith"], sun["azimuth"], 25, 180, 50, False)
    plane = irradiance.get_total_irradiance(
        rack["surface_tilt"],
        rack["surface_azimuth"],
        sun["apparent_zenith"],
        sun["azimuth"],
        dni,
        ghi,
        dhi,
        dni_extra=irradiance.get_extra_radiation(times),
        airmass=atmosphere.get_relative_airmass(sun["apparent_zenith"]),
        model="perez",
    )["poa_global"].fillna(0.0)
    cell = temperature.faiman(plane, weather.air_c, weather.wind_m_s)
    lit = plane > 0 if spare else slice(None)
    diode = pvsystem.calcparams_desoto(
        plane[lit],
        cell[lit],
        0.0005 * 7.5,
        fitted.slope_v,
        fitted.light_a,
        fitted.dark_a,
        fitted.shunt_ohm,
        fitted.series_ohm,
    )
    power = pvsystem.max_power_point(*diode, method="newton")["p_mp"]
    return float(np.nansum(np.asarray(power))) / 60_000


def seconds(work: Callable[[], object], *, anew: bool = True) -> float:
    """Median processor seconds of a few rounds; `anew`: each as the first of its process, which reads files and tables
    again.
    """
    taken = []
    for _ in range(ROUNDS):
        if anew:
            load._read.cache_clear()
            load._raw.cache_clear()
            module_table._tabulated.cache_clear()
            clearsky._linke_of_year.cache_clear()
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def waited(work: Callable[[], object]) -> float:
    """Median seconds by the clock of a few rounds."""
    taken = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def peak_gb() -> float:
    """Largest resident memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


def measured() -> dict[str, float]:
    """Processor seconds, their ratios to the two plain chains, and memory."""
    keep_freed()
    job = load_job("demo")
    three = ("fixed", "delayed", "ideal")
    start = time.process_time()
    compare(job, kinds=three)
    first = time.process_time() - start
    whole = seconds(lambda: Runner(job, threads=1).racks(three))
    four = seconds(lambda: Runner(job, threads=1).racks((*three, "thermal")))
    by_clock = waited(lambda: compare(job, kinds=three))
    engine_peak = peak_gb()
    scene = make_scene(job)
    smooth = with_overrides(job, {"weather.minutes": "smooth"})
    minutes = seconds(lambda: make_scene(job)) - seconds(lambda: make_scene(smooth))
    known = seconds(lambda: [simulate(on_rack(job, kind), scene=scene) for kind in three])
    thermal = seconds(lambda: simulate(on_rack(job, "thermal"), scene=scene))
    runner, delays = Runner(job), iter(range(61, 100))
    runner.racks(three)
    later = seconds(lambda: runner.run(with_overrides(job, {"rack.flip_delay": next(delays)})), anew=False)
    open_sky, wooded = (with_overrides(job, {**TWELVE_MODULES, "trees": trees}) for trees in ([], EIGHT_TREES))
    shade = [seconds(partial(simulate, each)) for each in (open_sky, wooded)]
    tank = with_overrides(job, SUMP_AND_TANK)
    watered = seconds(lambda: simulate(tank, scene=scene)) - seconds(lambda: simulate(job, scene=scene))
    label = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5, isc_per_k=0.0005, voc_per_k=-0.0034, cells=36)
    fitted = fit_label(label)
    plain = seconds(lambda: plain_chain(scene.weather, fitted))
    spare = seconds(lambda: plain_chain(scene.weather, fitted, spare=True))
    return {
        "minutes": len(scene.weather.times),
        "trees": len(job.trees),
        "plain_pvlib_chain_s": round(plain, 3),
        "spare_pvlib_chain_s": round(spare, 3),
        "three_racks_s": round(whole, 3),
        "three_racks_clock_s": round(by_clock, 3),
        "three_racks_first_call_s": round(first, 3),
        "three_racks_in_known_scene_s": round(known, 3),
        "four_racks_with_thermal_s": round(four, 3),
        "thermal_alone_in_known_scene_s": round(thermal, 3),
        "one_more_delay_s": round(later, 3),
        "ratio_three_racks": round(whole / plain, 3),
        "ratio_three_racks_to_spare_chain": round(whole / spare, 3),
        "ratio_three_racks_in_known_scene": round(known / plain, 3),
        "ratio_broken_minutes_add": round(minutes / plain, 3),
        "ratio_one_more_delay": round(later / plain, 3),
        "ratio_four_racks": round(four / plain, 3),
        "ratio_thermal_adds": round((four - whole) / plain, 3),
        "ratio_twelve_modules_behind_eight_trees_adds": round((shade[1] - shade[0]) / plain, 3),
        "ratio_sump_tank_and_cutouts_add": round(watered / plain, 3),
        "peak_gb": round(engine_peak, 2),
    }


def main() -> None:
    """Measure, print, and keep if asked."""
    asked = keeping.arguments("A year of minutes against a plain pvlib chain.").parse_args()
    keeping.tell("year_of_minutes", measured, keep=asked.keep, again=asked.again)


if __name__ == "__main__":
    main()
