"""A measured flow beside the expected one, in words: the verdict, and what would explain a gap."""

from __future__ import annotations

from collections.abc import Sequence

from trackersim.analysis.explanations import Explanation
from trackersim.analysis.fault_odds import ODDS_SOURCE, OTHER
from trackersim.analysis.flow_check import ASSUMED, FlowCheck
from trackersim.clock import when_words
from trackersim.job.model import Job
from trackersim.report.blocks import Answer, Caution, Note, Sentence, Table, sentences
from trackersim.report.flip_check import SKY_WORDS
from trackersim.report.flow_readings import array_words, gauge_agrees, gauge_words
from trackersim.report.remarks import remark
from trackersim.report.safety import may_swing
from trackersim.report.words import AT_THE_WELL, flows_words, listed, running_words, side_words, the_pumps
from trackersim.simulation.pump_station import PAIR
from trackersim.simulation.steady import UnitPoint
from trackersim.units import System, show, shown_number, unit_label

_NO_WATER = (
    "No water at all has causes of its own; look first at the disconnect, the controller's lights, a dry-running or "
    "low-flow stop, the float switch, the valves up to the outlet, and the source's level. Switch the pump off before "
    "you open a valve that it may press against."  # common practice, no source
)
# In the table, and in the last sentence.
_NAMES = {
    "not running": ("one pump is not running", "whether every pump runs"),
    "several not running": ("several pumps are not running", "whether every pump runs"),
    "none running": ("no pump is running", "whether the pumps have their power"),
    "tank empty": ("its collecting tank is empty", "the collecting tanks"),
    "held": ("its float or cut-out holds it", "floats and cut-outs"),
    "store full": ("the store's float holds all", "the store's float"),
    "light": ("less light on the modules", "the light on the modules"),
    "dirt": ("array weak: dirt, contacts", "dirt on the array"),
    "pump head": ("a pump worn, head lost", "the pump's wear"),
    "pump flow": ("a pump worn, flow lost", "the pump's wear"),
    "pipe": ("pipe scaled, down to", "the pipe"),
    "valve": ("valve half shut, blockage", "valves and strainers"),
    "shut": ("valve shut, pipe blocked", "whether every valve is open"),
    "level": ("water standing deeper", "the water level"),
    "rack": ("rack standing elsewhere", "the rack's angle"),
    "strings": ("strings giving nothing", "dead strings"),
    "modules": ("modules bypassed, each string", "bypassed or missing modules"),
    "leak": ("water lost on the way", "leaks and the check valve"),
    OTHER: ("something else, or several", ""),
}
_ALONE = {"not running": ("the pump is not running", "whether the pump runs")}
_MORE = {
    "light": "more light on the modules", "dirt": "array stronger", "level": "water standing higher",
    "pipe": "pipe smoother, up to", "rack": "rack nearer the sun", OTHER: "something else, or several",
}  # fmt: skip
_FEW = 3  # causes named in the last sentence
_LEAST_NAMED = 0.05


def flow_answer(check: FlowCheck, system: System) -> Answer:
    """Is this flow right for this sun? The verdict, what stands behind it, and what would explain a gap."""
    look = look_words(check)
    return Answer(
        headline=flow_sentence(check, system),
        blocks=(
            *unit_blocks(check, system),
            *sentences(" ".join(filter(None, (array_words(check, system), gauge_words(check, system))))),
            *((cause_table(check, system),) if check.causes else ()),
            *sentences(look),
            *((Caution(text=AT_THE_WELL),) if look else ()),
            Caution(text=safety_words(check.job)),
            *(remark(notice, system) for notice in check.notices),
            Note(text=assumed_words(check)),
            Sentence(text=last_words(check)),
        ),
        summary=check.summary(),
    )


def flow_sentence(check: FlowCheck, system: System) -> str:
    """The verdict in a sentence or two for a customer."""
    head = f"{check.job.site.name}, {when_words(check.job.site, check.moment)}: "
    measured, expected = measured_words(check, system), expected_words(check, system)
    sky = SKY_WORDS[check.seen.sky]
    return (
        head
        + {
            "right for this sun": f"{measured} is right for this sun; {expected} is to be expected.",
            "low": f"{measured} is low; {expected} is to be expected.",
            "high": f"{measured}, but no water is to be expected{_why_none(check)}"
            if check.expected_m3_s[2] == 0
            else f"{measured} is more than the job lets expect; {expected} is to be expected.",
            "cannot tell": f"{measured} can be neither called right nor wrong: under {sky} anything from "
            f"{expected.removeprefix('about ')} is possible.",
            "no water expected": "no water is to be expected" + _why_none(check),
        }[check.verdict]
    )


def _why_none(check: FlowCheck) -> str:
    return ": the sun is down." if check.point is None else ": the light is too weak to start a pump."


def measured_words(check: FlowCheck, system: System) -> str:
    """ "30 gpm (±2.8 %)"."""
    measured = check.measured
    error = f" (±{100 * measured.error_share:.1f} %)" if measured.flow_m3_s > 0 else ""
    return f"{show(measured.flow_m3_s, 'flow', system)}{error}"


def expected_words(check: FlowCheck, system: System) -> str:
    """ "about 9.9 gpm (8.7 to 11)"."""
    least, likely, most = (shown_number(flow, "flow", system) for flow in check.expected_m3_s)
    unit = unit_label("flow", system)
    return (
        f"{least} to {most} {unit}" if check.verdict == "cannot tell" else f"about {likely} {unit} ({least} to {most})"
    )


def unit_blocks(check: FlowCheck, system: System) -> tuple[Sentence | Table, ...]:
    """What every pump should do at that moment: a sentence for one, a table for several."""
    if check.point is None:
        return ()
    if len(check.point.units) == 1:
        return sentences(moment_words(check, system))
    return (
        *sentences(_pipe_words(check, system)),
        unit_table(check.job.unit_names, check.point.units, system),
    )


def moment_words(check: FlowCheck, system: System) -> str:
    """The likely light, rack, power and head behind the expected flow of one pump."""
    if check.point is None:
        return ""
    unit = check.point.units[0]
    # The 0° of a fixed rack is how it is fixed, and no level plane.
    fixed = check.job.units[0].rack.kind == "fixed" and unit.rotation_deg == 0
    side = "as it is fixed" if fixed else side_words(unit.rotation_deg)
    words = (
        f"Behind that: {show(unit.plane_w_m2, 'light', system)} on the modules, the rack {side}, "
        f"{show(unit.input_w, 'power', system)} to be had at the controller"
    )
    if unit.is_off:
        return f"{words}: the pump is off."
    if not unit.running:
        held = str(unit.state).removeprefix("waiting: ")
        return f"{words}; the pump waits ({held}), {unit.open_v:.0f} V with nothing taken."
    used = f"{show(unit.used_w, 'power', system)} used, {unit.input_v:.0f} V and {unit.input_a:.1f} A"
    spare = f" (full speed: the array floats above its best point, {unit.best_v:.0f} V)" if unit.has_spare else ""
    if unit.flow_m3_s <= 0:
        return f"{words}, {used}{spare}; that turns the pump too slowly to lift."
    return f"{words}, {used}{spare}, a head of {show(unit.head_m, 'length', system)}."


def _pipe_words(check: FlowCheck, system: System) -> str:
    """The flows that may be found at the pipe of several pumps, by how many of them run."""
    if len(check.flows_m3_s) <= PAIR:
        return ""
    flows = f"{flows_words(check.flows_m3_s, system)} {unit_label('flow', system)}"
    return f"In this sun {flows} are to be found, with {running_words(check.job)} running."


def unit_table(names: Sequence[str], units: Sequence[UnitPoint], system: System) -> Table:
    """What each pump should do at that moment, and what its controller should show."""
    flow, head = unit_label("flow", system), f"head {unit_label('length', system)}"
    rows = (
        (
            name,
            f"{unit.state}, full speed" if unit.has_spare else str(unit.state),
            shown_number(unit.flow_m3_s, "flow", system),
            shown_number(unit.head_m, "length", system),
            f"{unit.used_w:.0f}",
            f"{unit.input_w:.0f}",
            f"{unit.input_v:.0f}",
            f"{unit.input_a:.1f}",
        )
        for name, unit in zip(names, units, strict=True)
    )
    header = ("Pump", "should be", flow, head, "used W", "could W", "V", "A")
    return Table(header=header, rows=tuple(rows), tight=True)


def _is_read(check: FlowCheck) -> bool:
    """Whether causes are held against a reading beside the flow."""
    held = (check.gauge_head_m, check.readings.voltage_v, check.readings.current_a)
    return any(value is not None for value in held)


def cause_table(check: FlowCheck, system: System) -> Table:
    """Possible causes with the size each would need, likeliest first; under a reading, whether they agree with it."""
    low = check.verdict == "low"
    columns = {
        "Cause, alone": [cause_name(check, cause) for cause in check.causes],
        "at": [_where(check, cause) for cause in check.causes] if check.job.unit else None,
        "size needed": [size_words(cause, system, low=low) for cause in check.causes],
        "likely": [f"{100 * cause.probability:.0f} %" for cause in check.causes],
        "readings": [_agrees(cause) for cause in check.causes] if _is_read(check) else None,
    }
    shown = {head: cells for head, cells in columns.items() if cells is not None}
    return Table(header=tuple(shown), rows=tuple(zip(*shown.values(), strict=True)), tight=True)


def cause_name(check: FlowCheck, cause: Explanation) -> str:
    """What a cause is called in the table."""
    if check.verdict != "low":
        return _MORE[cause.name]
    return (_NAMES if check.job.unit else {**_NAMES, **_ALONE})[cause.name][0]


def _where(check: FlowCheck, cause: Explanation) -> str:
    count = len(check.job.units)
    if not cause.units or cause.name in _TOGETHER:
        return "all" if cause.units else "–"
    if len(cause.units) == count:
        return "either" if count == PAIR else "any"
    more = f" +{len(cause.units) - 1}" if len(cause.units) > 1 else ""
    return check.job.unit_names[cause.units[0]] + more


_TOGETHER = ("none running", "store full")


def _agrees(cause: Explanation) -> str:
    """Whether the other readings agree: "fit", or the ones that do not."""
    if cause.against:
        return f"not {', '.join(cause.against)}"
    return "fit" if cause.fits else "–"


def size_words(cause: Explanation, system: System, *, low: bool) -> str:
    """The size a cause would need, in its own terms; of one that is there or not, the flow that it leaves."""
    size = cause.size or 0.0
    if cause.kind == "none":
        return "–" if cause.name == OTHER else f"leaves {show(cause.flow_m3_s, 'flow', system)}"
    return {
        "share": f"{100 * size:.0f} % {'less' if low else 'more'}",
        "angle": side_words(size),
        "strings": f"{size:.0f}",
        "modules": f"{size:.0f} a string",
        "c_value": f"C {size:.0f}",
        "length": show(size, "length", system),
        "factor": f"K {size:.0f} more",
        "flow": show(size, "flow", system),
    }[cause.kind]


def look_words(check: FlowCheck) -> str:
    """Where to look first when no water comes, or before a pump is lifted; empty otherwise."""
    if check.verdict != "low":
        return ""
    if check.measured.flow_m3_s == 0:
        return _NO_WATER
    named = {cause.name for cause in check.causes if cause.probability >= _LEAST_NAMED}
    if not named & {"pump head", "pump flow", "level"}:
        return ""
    sources = [unit.source for unit in check.job.units]
    before, look = "anybody lifts a pump", "dip the well"
    if all(source.suction_m > 0 for source in sources):  # it stands in the open, above its water
        before, look = "anybody opens a pump", "measure how far the water stands below it"
    elif all(source.kind == "sump" for source in sources):
        look = "see from above how full the collecting tank is"
    return (
        f"From up here water that stands deeper looks like a worn pump. Before {before}: {look}, and put what you find "
        "in the job (source.lift)."
    )


def assumed_words(check: FlowCheck) -> str:
    """What the expected flow rests on."""
    sump = any(unit.source.kind == "sump" for unit in check.job.units)
    taken = [
        *(["room in the store"] if check.job.store.capacity_m3 else []),
        *(["water in every collecting tank"] if sump else []),
    ]
    odds = ""
    if check.causes:
        odds = (
            " How likely a cause is, all of them together 100 %: how well it fits the readings, times how common it is "
            f"({ODDS_SOURCE})."
        )
    return f"Note: {ASSUMED}" + (f" Taken for granted: {' and '.join(taken)}." if taken else "") + odds


def safety_words(job: Job) -> str:
    """The care to take at the pipe, and at what the causes are looked for at."""
    return f"{'The rack swings, ' if may_swing(job) else ''}DC is live, wells and tanks can kill: local codes decide."


def last_words(check: FlowCheck) -> str:
    """One sentence to end with, for the customer."""
    likely = [cause for cause in check.causes if cause.name != OTHER and cause.probability >= _LEAST_NAMED]
    if check.verdict == "low" and likely:
        words = _NAMES if check.job.unit else {**_NAMES, **_ALONE}
        names = list(dict.fromkeys(words[cause.name][1] for cause in likely))[:_FEW]
        return f"In short: less water than this sun should give; look first at {listed(names)}."
    if check.verdict == "high" and check.expected_m3_s[2] == 0:
        return "In short: water where this sun can pump none; check the time given, or what else feeds the pipe."
    if check.verdict == "high" and not likely:
        return "In short: more water than any everyday cause explains; check bucket, watch, and the pump in the job."
    if check.verdict == "right for this sun" and not gauge_agrees(check):
        return (
            "In short: the flow is right for this sun, but the gauge is not what this pipe asks: say how high it sits, "
            "and look at gauge, valves and outlet before the pump is called sound."
        )
    if check.verdict == "cannot tell" and not check.meters_agree:
        return (
            "In short: the flow could be right for some sky, but volts and amps do not go with it: read flow, volts "
            "and amps again in the same minute, and say how the sky is, before the pump is called sound."
        )
    it = "it" if len(check.job.units) == 1 else "they"
    return {
        "right for this sun": f"In short: {the_pumps(check.job, 'give')} what {it} should in this sun.",
        "low": "In short: far less water than this sun should give, and no single everyday cause explains it.",
        "high": "In short: nothing to mend; light, lift or array are better than the job says, or the bucket is off.",
        "cannot tell": "In short: measure again in steady sun, or with a light meter on the modules.",
        "no water expected": "In short: measure again when the sun is well up.",
    }[check.verdict]
