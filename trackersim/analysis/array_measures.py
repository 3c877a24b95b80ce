"""Ready-made options with more modules, and what their voltage in the cold has against them."""

from __future__ import annotations

from dataclasses import replace

from trackersim.analysis.loss_terms import Changes, for_units
from trackersim.analysis.ready_made import Ready
from trackersim.job.model import Job
from trackersim.power.voltage import air_at_voltage_c, cold_open_circuit_v, lacks_record_low, voltage_verdict
from trackersim.units import show_both

_MORE_MODULES = "modules like those there; whether rack and pole bear their weight and wind is not checked"
_MORE_AMPERES = "a controller, fuse and wire that bear its amperes (see the wiring answer)"


def longer_strings(job: Job, coldest_c: float) -> Ready:
    """One more module in every string, where the controller bears its voltage on the coldest morning.

    Close to the controller's limit it is refused until the coldest air on record is given: one night colder than the
    weather's would cost the controller.
    """
    made = Ready(name="longer-strings", words="one more module a string", presupposes=_MORE_MODULES)
    why, presupposed = in_the_cold(job, coldest_c, more=1)
    if why:
        return made.not_here(why)
    if presupposed:
        made = replace(made, presupposes=f"{_MORE_MODULES}; {presupposed}")
    return made.carried_out(for_units(job, lambda unit: _more_modules(unit, series=1, parallel=0)))


def one_more_string(job: Job, coldest_c: float) -> Ready:
    """One more string beside the others, where the controller bears their voltage, which stays as it is."""
    made = Ready(name="one-more-string", words="one more string", presupposes=f"{_MORE_MODULES}; {_MORE_AMPERES}")
    why, _ = in_the_cold(job, coldest_c, new=False)
    if why:
        return made.not_here(why)
    return made.carried_out(for_units(job, lambda unit: _more_modules(unit, series=0, parallel=1)))


def in_the_cold(job: Job, coldest_c: float, *, more: int = 0, new: bool = True) -> tuple[str, str]:
    """Why a job's strings with `more` modules added may not be connected ("": they may), and what that presupposes.

    Told of the unit whose array reaches its controller's limit first as it gets colder. Strings that are not `new`
    hang there already, and the wiring answer judges them: these are not to be above the limit, and no more is asked.
    """
    found = []
    for unit in job.units:
        limit_v = unit.controller.max_input_v
        if limit_v is None:
            return "the controller's largest input voltage is not given (controller.max_input)", ""
        array = unit.array.model_copy(update={"in_series": unit.array.in_series + more})
        found.append((air_at_voltage_c(array, limit_v), cold_open_circuit_v(array, coldest_c), limit_v))
    limit_c, cold_v, limit_v = max(found)
    verdict = voltage_verdict(cold_v, max_v=limit_v)
    if verdict == "over":
        reach = "would reach" if new else "reach"
        return f"its strings {reach} {cold_v:.0f} V in the cold, above the controller's {limit_v:.0f} V", ""
    if not new:
        return "", ""
    cold = show_both(limit_c, "temperature", digits=2)
    above = f"in air below {cold} its strings are above the controller's {limit_v:.0f} V"
    if job.site.design_low_c is None and verdict == "close":
        return (
            f"its strings would reach {cold_v:.0f} V in the coldest air of this weather, which is no record, and "
            f"{above}: give the coldest air on record (site.design_low)",
            "",
        )
    if verdict == "close":
        return (
            "",
            f"a controller that bears {cold_v:.0f} V, close to its limit, in the coldest air on record: {above}",
        )
    if lacks_record_low(job.site.design_low_c, limit_c):
        return "", f"a record low, not given (site.design_low), that the controller bears: {above}"
    return "", ""


def _more_modules(unit: Job, *, series: int, parallel: int) -> Changes:
    """A larger array, laid out along the rows and columns that there are."""
    array, out = unit.array, unit.array.layout
    in_series, in_parallel = array.in_series + series, array.in_parallel + parallel
    count = in_series * in_parallel
    rows, columns = out.rows, out.columns
    if rows is not None or columns is not None:
        laid = array.laid_out
        along_rows = laid.strung_by == "rows"
        # A longer string lengthens the edge it runs along; another string lengthens the other edge.
        longer = along_rows == bool(series)
        ways = [(laid.rows, None), (None, laid.columns)] if longer else [(None, laid.columns), (laid.rows, None)]
        fitting = ((r or count // (c or 1), c or count // (r or 1)) for r, c in ways if count % (r or c or 1) == 0)
        rows, columns = next(fitting, (None, None))
    return {
        "array.in_series": in_series,
        "array.in_parallel": in_parallel,
        "array.layout.rows": rows,
        "array.layout.columns": columns,
    }
