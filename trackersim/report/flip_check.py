"""Whether the rack should have flipped by now, in words: the verdict, the times, and what to look at."""

from __future__ import annotations

from trackersim.analysis.flip_check import ASSUMED, FlipCheck, Span
from trackersim.analysis.sampled_turns import learned_from
from trackersim.clock import hhmm, when_words
from trackersim.errors import counted
from trackersim.job.model import Job
from trackersim.report.blocks import Answer, Caution, Listing, Note, Sentence, Table, sentences
from trackersim.report.safety import may_swing
from trackersim.report.words import FULL_SUN, first_light_words, side_words, stays_words
from trackersim.units import System, show

_NAMES = {
    "flip": "rack turns east",
    "arrival": "faces the sun",
}
SKY_WORDS = {
    "clear": "a clear sky",
    "haze": "haze",
    "cloud": "passing clouds",
    "overcast": "an overcast sky",
    "unknown": "an unknown sky",
}
_SUN = "Is the sun on the west canister, its whole length? Look for shade of a tree, a bent plate, a nest, snow."
_FREE = "Tied off safely and with help: is it free to move by hand? Look for a tie left on, a cable or hose caught."
_PLATES = "Shade plates: straight, all there, the right way round, so that only the west canister is in the sun."
_GAS = (
    "Refrigerant: an oily mark, a rack that hangs level or stops short of its stops, means that some is lost. Checking "
    "and charging are licensed work."
)
_DAMPER = "Damper: bent, leaking, or so stiff in the cold that the rack creeps."
_FRICTION = "Friction: dry or rusted bearings; it waits, then jumps."
_BALANCE = "Balance: something added or taken off (modules, brackets, ice) makes it stay at a stop."


def flip_answer(check: FlipCheck, system: System) -> Answer:
    """Should it have flipped by now? The verdict, the times, what to look at, and the care to take."""
    look = look_words(check)
    return Answer(
        headline=flip_sentence(check),
        blocks=(
            moment_table(check),
            *sentences(standing_words(check)),
            *((Listing(lines=look, numbered=True),) if look else ()),
            Caution(text=safety_words(check.job)),
            *(Note(text=note) for note in note_words(check, system)),
            Sentence(text=last_words(check)),
        ),
        summary=check.summary(),
    )


def safety_words(job: Job) -> str:
    """The care to take at the rack."""
    return f"{'The rack swings, canisters hold pressure, ' if may_swing(job) else ''}DC is live: local codes decide."


def flip_sentence(check: FlipCheck) -> str:
    """The answer in a sentence or two for a customer."""
    head = f"{check.job.site.name}, {when_words(check.job.site, check.moment)}: "
    return head + _WORDS.get(check.verdict, _due)(check)


def _night(check: FlipCheck) -> str:
    if check.spans["flip"].early is None:
        return "the sun is down, so the rack rests; on this day it has no sun to turn it."
    return f"the sun is down, so the rack rests. On this day it should turn east {_when(check, check.spans['flip'])}."


def _early(check: FlipCheck) -> str:
    return f"too early to tell. With {_sky(check)} it should turn east {_when(check, check.spans['flip'])}."


def _due(check: FlipCheck) -> str:
    words = f"the rack is due. With {_sky(check)} it should turn east {_when(check, check.spans['flip'])}."
    return words + (" Seen level, it may be on its way: look again in ten minutes." if check.stands == "level" else "")


def _overdue(check: FlipCheck) -> str:
    seen = "should have faced the sun" if check.stands == "level" else "should have turned"
    last, likely = (hhmm(check.clock(minute)) for minute in (_last(check), check.spans["flip"].likely))
    return (
        f"the rack is overdue by {check.over_min} min. With {_sky(check)} it {seen} by {last} on 19 mornings of 20; "
        f"likely it turns at {likely}."
    )


def _unwatched(check: FlipCheck) -> str:
    return (
        "nobody has told when this rack turns, so there is no verdict. With a delay by default it would have turned by "
        f"{hhmm(check.clock(check.spans['flip'].late))}; watch it on a clear morning and give rack.flip_delay."
    )


def _last(check: FlipCheck) -> int | None:
    return check.spans["arrival" if check.stands == "level" else "flip"].late


def _turned(check: FlipCheck) -> str:
    expected = _when(check, check.spans["flip"])
    return f"it has turned east already. With {_sky(check)} that was to be expected {expected}."


def _not_today(check: FlipCheck) -> str:
    stays = "" if check.spans["flip"].early is None else f"; {stays_words(check.never, check.runs)} it does not"
    why = "" if check.seen.sky == "clear" else ": it needs sun to warm it"
    return f"with {_sky(check)} the rack may not turn at all today{stays}. That is no fault{why}."


def _too_late(check: FlipCheck) -> str:
    return (
        "the sun is in the west now, where a sound rack follows it: that says nothing about this morning, when it "
        f"should have turned east {_when(check, check.spans['flip'])}. Watch it tomorrow morning."
    )


def _wrong(check: FlipCheck) -> str:
    return "the sun is in the west and the rack still faces east: it does not follow. That is a fault, or it is held."


def _no_flip(check: FlipCheck) -> str:
    if check.kind == "fixed":
        return "a fixed rack does not turn, so there is nothing to wait for."
    if check.kind == "ideal":
        return "a rack that follows the sun by a drive does not wait for the morning sun to warm it."
    if check.job.units[0].rack.thermal.stuck and check.kind == "thermal":
        return "the job says that this rack is stuck: it does not turn."
    if check.kind == "logged":
        turned = check.spans["flip"].likely
        when = "did not turn east that morning" if turned is None else f"turned east at {hhmm(check.clock(turned))}"
        return f"by its log this rack {when}."
    return "the evening before leaves this rack facing east, so it has no turn to make."


_WORDS = {
    "too early to tell": _early, "due": _due, "overdue": _overdue, "turned": _turned, "may not turn today": _not_today,
    "too late to tell": _too_late, "night": _night, "no flip": _no_flip, "stands the wrong way": _wrong,
    "nobody has watched it": _unwatched,
}  # fmt: skip


def _sky(check: FlipCheck) -> str:
    return SKY_WORDS[check.seen.sky]


def _when(check: FlipCheck, span: Span) -> str:
    """ "at about 08:05, between 07:46 and 08:36"; how often it does not turn is said where that is not rare."""
    if span.early is None:
        return "not at all"
    early, late = hhmm(check.clock(span.early)), hhmm(check.clock(span.late))
    likely = f"at about {hhmm(check.clock(span.likely))}" if span.likely is not None else "perhaps"
    if span.late is not None:
        return f"{likely}, between {early} and {late}"
    return f"{likely}, not before {early}, or {stays_words(check.never, check.runs)} not at all"


def moment_table(check: FlipCheck) -> Table:
    """Sunrise and light on a cloudless morning; turn and arrival early, likely, late by the site's clock."""
    light, spans = check.light, check.spans
    names = {"sunrise": light.sunrise, first_light_words(check.job): light.first_light, FULL_SUN: light.full_sun}
    rows: list[tuple[str, ...]] = [(words, "", hhmm(check.clock(minute)), "") for words, minute in names.items()]
    if check.verdict != "no flip":
        rows += [
            (words, *(hhmm(check.clock(minute)) for minute in (spans[n].early, spans[n].likely, spans[n].late)))
            for n, words in _NAMES.items()
        ]
    return Table(header=("Moment", "early", "likely", "late"), rows=tuple(rows))


def standing_words(check: FlipCheck) -> str:
    """Where the rack should stand at that moment; empty for one fixed otherwise than at an angle of its axis."""
    if check.kind == "fixed" and not check.job.units[0].rack.fixed_rotation_deg:
        return ""  # its 0° is no level plane
    least, likely, most = check.stands_now_deg
    between = "" if most - least < 1 else f", between {side_words(least)} and {side_words(most)}"
    return f"At that moment it should stand {side_words(likely)}{between}."


def look_words(check: FlipCheck) -> tuple[str, ...]:
    """What to look at, in order; empty where there is nothing to look for."""
    if check.verdict == "overdue" and check.stands == "level":
        return (_GAS, _FREE, _FRICTION, _BALANCE, _PLATES, _DAMPER)
    if check.verdict == "stands the wrong way":
        return (_FREE, _SUN.replace("west", "east"), _PLATES.replace("west", "east"), _GAS, _DAMPER, _BALANCE)
    if check.verdict in ("overdue", "due", "nobody has watched it"):
        return (_SUN, _FREE, _PLATES, _GAS, _DAMPER, _FRICTION, _BALANCE)
    return ()


def note_words(check: FlipCheck, system: System) -> tuple[str, ...]:
    """What the times rest on."""
    air = check.seen.air_c
    told = "the month's usual air" if air is None else f"air at {show(air, 'temperature', system)}"
    kind = ASSUMED[1] if check.kind == "delayed" else ASSUMED[2]
    never = f" In {check.never} of {check.runs} runs it does not turn at all." if check.never else ""
    kind += learned_words(check.job.units[0])
    unit = " Of several units, this is the first one's rack." if check.job.unit else ""
    if check.other_air_c is not None:
        watched = show(check.other_air_c, "temperature", system)
        kind += f" It was watched in air of {watched}, far from today's: early and late lie wider apart for it."
    first = f"Note: with {_sky(check)}, {told}, wind {check.seen.wind}. {ASSUMED[0]}{never}"
    return (first, f"Note: {kind}{unit}") if check.runs > 1 else ()


def learned_words(unit: Job) -> str:
    """From how many mornings a watched rack was learned, after a space; of another rack nothing."""
    mornings = learned_from(unit)
    if mornings is None:
        return ""
    told = "" if unit.rack.flip_mornings else ", since the job does not say from how many"
    return f" It was learned from {counted(mornings, 'morning')}{told}: the fewer, the wider apart early and late."


def last_words(check: FlipCheck) -> str:
    """One sentence to end with, for the customer."""
    late, likely = (hhmm(check.clock(minute)) for minute in (check.spans["flip"].late, check.spans["flip"].likely))
    if check.verdict == "due" and check.spans["flip"].late is None:
        why, when = _held_by(check)
        return f"In short: {why} it may turn late or stay as it is; judge it on {when}."
    if check.verdict == "may not turn today" and check.seen.sky == "clear":
        why, when = _held_by(check)
        return f"In short: {why} it may stay as it is; look again on {when}."
    return {
        "too early to tell": f"In short: nothing is wrong so far; look again at {likely}{_or_stays(check)}.",
        "due": f"In short: give it until {late} before you call it broken.",
        "overdue": "In short: by what the job tells of this rack it would have turned by now; it wants looking at. "
        "A sound one is later on 1 morning of 20: before anything is taken apart, watch another and diagnose both.",
        "turned": "In short: the rack did its morning turn.",
        "may not turn today": "In short: no sun, no turn; look again on a sunny morning.",
        "too late to tell": "In short: come back tomorrow morning to see whether it turns.",
        "night": _by_night(check, late),
        "no flip": "In short: what this rack did stands in its log; nothing else is expected of it."
        if check.kind == "logged"
        else "In short: this rack has no morning turn to wait for.",
        "nobody has watched it": "In short: no verdict; note the minute at which it turns on the next clear morning.",
        "stands the wrong way": "In short: the rack does not follow the sun and wants looking at.",
    }[check.verdict]


def _held_by(check: FlipCheck) -> tuple[str, str]:
    """What may keep the rack west, and on which morning to judge it; under a clear sky only cold that was told."""
    if check.seen.sky != "clear":
        return "with such a sky", "a sunny morning"
    if check.told_cold:
        return "in such cold", "a milder morning"
    return "even under a clear sky", "several mornings, not one"


def _or_stays(check: FlipCheck) -> str:
    if check.spans["flip"].late is not None:
        return ""
    return f", but {stays_words(check.never, check.runs)} it does not turn, and that is no fault"


def _by_night(check: FlipCheck, late: str) -> str:
    """What to do in the dark: before the day's sun it is still to come."""
    if check.spans["flip"].late is None:
        return "In short: look at it in daylight, on a sunny morning."
    if check.light.sunrise is not None and check.moment.minute < check.light.sunrise:
        return f"In short: look at it in daylight; on this day it should turn by {late}."
    return f"In short: look at it tomorrow in daylight; on this day it should have turned by {late}."
