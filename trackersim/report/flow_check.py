"""A measured flow beside the expected one, in words: the verdict, and what would explain a gap."""

from __future__ import annotations

from trackersim.analysis.explanations import Explanation
from trackersim.analysis.flow_check import ASSUMED, FlowCheck
from trackersim.clock import when_words
from trackersim.report.blocks import Answer, Caution, Note, Quantity, Sentence, Table, sentences
from trackersim.report.flip_check import SKY_WORDS
from trackersim.report.remarks import remark
from trackersim.units import System, rounded, show, shown_value, unit_label

_NO_WATER = (
    "No water at all has causes of its own; look first at the disconnect, the controller's lights, a dry-running or "
    "low-flow stop, the float switch and the source's level."
)
# In the table, and in the last sentence.
_NAMES = {
    "light": ("less light on the modules", "the light on the modules"),
    "array": ("array weak: dirt, contacts", "the array"),
    "pump head": ("pump worn, head lost", "the pump's wear"),
    "pump flow": ("pump worn, flow lost", "the pump's wear"),
    "pipe": ("pipe scaled, down to", "the pipe"),
    "valve": ("valve half shut, blockage", "valves and strainers"),
    "level": ("water standing deeper", "the water level"),
    "rack": ("rack standing elsewhere", "the rack's angle"),
    "strings": ("strings giving nothing", "dead strings"),
    "leak": ("water lost on the way", "leaks and the check valve"),
}
_MORE = {
    "light": "more light on the modules", "array": "array stronger", "level": "water standing higher",
    "pipe": "pipe smoother, up to", "rack": "rack nearer the sun",
}  # fmt: skip


def flow_answer(check: FlowCheck, system: System) -> Answer:
    """Is this flow right for this sun? The verdict, what stands behind it, and what would explain a gap."""
    rows = cause_rows(check, system)
    return Answer(
        headline=bucket_sentence(check, system),
        figures={
            "measured": Quantity(value=check.measured.flow_m3_s, kind="flow", meaning="flow as measured"),
            "expected": Quantity(value=check.expected_m3_s[1], kind="flow", meaning="flow to be expected, likely"),
        },
        blocks=(
            *sentences(" ".join(filter(None, (moment_words(check, system), gauge_words(check, system))))),
            *((Table(header=cause_header(check), rows=tuple(rows)),) if rows else ()),
            *sentences(look_words(check)),
            Caution(text=SAFETY_WORDS),
            *(remark(notice) for notice in check.notices),
            Note(text=assumed_words(check)),
            Sentence(text=last_words(check, system)),
        ),
        summary=check.summary(),
    )


def bucket_sentence(bucket: FlowCheck, system: System) -> str:
    """The verdict in a sentence or two for a customer."""
    head = f"{bucket.job.site.name}, {when_words(bucket.job.site, bucket.moment)}: "
    measured, expected = measured_words(bucket, system), expected_words(bucket, system)
    return (
        head
        + {
            "right for this sun": f"{measured} is right for this sun; {expected} is to be expected.",
            "low": f"{measured} is low; {expected} is to be expected.",
            "high": f"{measured}, but no water is to be expected{_why_none(bucket)}"
            if bucket.expected_m3_s[2] == 0
            else f"{measured} is more than the job lets expect; {expected} is to be expected.",
            "cannot tell": f"{measured} can be neither called right nor wrong: under {_sky(bucket)} anything from "
            f"{expected.removeprefix('about ')} is possible.",
            "no water expected": "no water is to be expected" + _why_none(bucket),
        }[bucket.verdict]
    )


def _why_none(bucket: FlowCheck) -> str:
    return ": the sun is down." if bucket.point is None else ": the light is too weak to start the pump."


def _sky(bucket: FlowCheck) -> str:
    return SKY_WORDS[bucket.seen.sky]


def measured_words(bucket: FlowCheck, system: System) -> str:
    """ "30 gpm (±2.8 %)"."""
    measured = bucket.measured
    error = f" (±{100 * measured.error_share:.1f} %)" if measured.flow_m3_s > 0 else ""
    return f"{show(measured.flow_m3_s, 'flow', system)}{error}"


def expected_words(bucket: FlowCheck, system: System) -> str:
    """ "about 9.9 gpm (8.7 to 11)"."""
    least, likely, most = (rounded(shown_value(flow, "flow", system)) for flow in bucket.expected_m3_s)
    unit = unit_label("flow", system)
    return (
        f"{least} to {most} {unit}" if bucket.verdict == "cannot tell" else f"about {likely} {unit} ({least} to {most})"
    )


def moment_words(bucket: FlowCheck, system: System) -> str:
    """The likely light, rack, power and head behind the expected flow."""
    point = bucket.point
    if point is None:
        return ""
    angle = abs(point.rotation_deg)
    side = "level" if angle < 0.5 else f"{angle:.0f}° {'west' if point.rotation_deg > 0 else 'east'}"
    words = (
        f"Behind that: {show(point.plane_w_m2, 'light', system)} on the modules, the rack {side}, "
        f"{show(point.input_w, 'power', system)} to be had at the controller"
    )
    if not point.running:
        return f"{words}, too little to run: {point.input_v:.0f} V with nothing taken."
    used = f"{show(point.used_w, 'power', system)} at {point.input_v:.0f} V used"
    return f"{words}, {used}, a head of {show(point.head_m, 'length', system)}."


def gauge_words(bucket: FlowCheck, system: System) -> str:
    """What the gauge says of pipe and pump; empty without one."""
    gauge, asked = bucket.gauge_head_m, bucket.asked_head_m
    if gauge is None or asked is None:
        return ""
    shown = f"The gauge tells a head of {show(gauge, 'length', system)}; the pipe as described asks "
    shown += f"{show(asked, 'length', system)} at this flow: "
    if gauge > 1.07 * asked + 1:
        return shown + "the pipe takes more than it should, or the lift is higher."
    if gauge < asked / 1.07 - 1:
        return shown + "the water leaves more easily than described: a leak, a lower lift, or a gauge set higher."
    return shown + "pipe and lift are as described, so look at pump, power and light."


def _read(bucket: FlowCheck) -> tuple[str, ...]:
    """The readings that causes are held against."""
    gauge = ("gauge",) if bucket.gauge_head_m is not None else ()
    return (*gauge, "voltage") if bucket.readings.voltage_v is not None else gauge


def cause_header(bucket: FlowCheck) -> tuple[str, ...]:
    """Headings of `cause_rows`; under a reading, whether the cause agrees with it."""
    return ("Cause, alone", "size needed", "credible", *_read(bucket))


def cause_rows(bucket: FlowCheck, system: System) -> list[tuple[str, ...]]:
    """Causes with the size each would need, believable ones first."""
    low = bucket.verdict == "low"
    return [
        (
            _NAMES[cause.name][0] if low else _MORE[cause.name],
            size_words(cause, system, low=low),
            "yes" if cause.explains else ("unlikely" if cause.size is not None else "no"),
            *(_agrees(cause, name) for name in _read(bucket)),
        )
        for cause in bucket.causes
    ]


def _agrees(cause: Explanation, reading: str) -> str:
    return "yes" if reading in cause.fits else "no" if reading in cause.against else "–"


def size_words(cause: Explanation, system: System, *, low: bool) -> str:
    """The size a cause would need, in its own terms."""
    if cause.size is None:
        left = show(cause.flow_m3_s, "flow", system)
        return f"leaves {left}" if low else f"gives {left}"
    size = cause.size
    return {
        "share": f"{100 * size:.0f} % {'less' if low else 'more'}",
        "angle": "level" if abs(size) < 0.5 else f"{abs(size):.0f}° {'west' if size > 0 else 'east'}",
        "strings": f"{size:.0f}",
        "c_value": f"C {size:.0f}",
        "length": show(size, "length", system),
        "factor": f"K {size:.0f} more",
        "flow": show(size, "flow", system),
    }[cause.kind]


def look_words(bucket: FlowCheck) -> str:
    """Where to look first when no water comes; empty otherwise."""
    return _NO_WATER if bucket.verdict == "low" and bucket.measured.flow_m3_s == 0 else ""


def assumed_words(bucket: FlowCheck) -> str:
    """What the expected flow rests on."""
    return f"Note: {ASSUMED}" + (" The store is taken to have room." if bucket.job.store.capacity_m3 else "")


SAFETY_WORDS = "The rack swings, DC is live, wells and tanks can kill: local codes decide."


def last_words(bucket: FlowCheck, system: System) -> str:
    """One sentence to end with, for the customer."""
    likely = [cause for cause in bucket.causes if cause.explains and not cause.against]
    if bucket.verdict == "low" and likely:
        names = list(dict.fromkeys(_NAMES[cause.name][1] for cause in likely))[:4]
        first = f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
        return f"In short: less water than this sun should give; look first at {first}."
    if bucket.verdict == "high" and bucket.expected_m3_s[2] == 0:
        return "In short: water where this sun can pump none; check the time given, or what else feeds the pipe."
    if bucket.verdict == "high" and not likely:
        return "In short: more water than any everyday cause explains; check bucket, watch, and the pump in the job."
    return {
        "right for this sun": "In short: the pump gives what it should in this sun.",
        "low": "In short: far less water than this sun should give, and no single everyday cause explains it.",
        "high": "In short: nothing to mend; light, lift or array are better than the job says, or the bucket is off.",
        "cannot tell": "In short: measure again in steady sun, or with a light meter on the modules.",
        "no water expected": "In short: measure again when the sun is well up.",
    }[bucket.verdict]
