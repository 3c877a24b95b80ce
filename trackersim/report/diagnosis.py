"""What ails the rack, in words: the likely conditions, what is seen with each, and what would tell most tomorrow."""

from __future__ import annotations

import datetime as dt

from trackersim.analysis.diagnosis import COLD, TREES, WATCHED, Likely, RackDiagnosis, SoundSpan
from trackersim.analysis.losses import SiteLosses
from trackersim.analysis.rack_conditions import CONDITIONS, SIGNS, SOUND, SOURCE
from trackersim.analysis.watched_mornings import SeenMoment
from trackersim.clock import hhmm, wall_time
from trackersim.errors import counted
from trackersim.report.blocks import Answer, Caution, Note, Sentence, Table, sentences
from trackersim.report.site_losses import site_words
from trackersim.report.words import CLOUDLESS
from trackersim.simulation.watched import LONGEST_DELAY_MIN
from trackersim.units import System

SAFETY = (
    "The rack swings, canisters hold pressure, DC is live: tie it off before you touch it, open no canister; local "
    "codes decide."
)
NOTE = (
    "Note: the physics of a rack like the job's, its unmeasured numbers drawn. How common each condition is, how far "
    f"it goes, and how often its signs are seen: {SOURCE}. Several faults at once are not looked for."
)
_UNLIKELY = 0.005
_SURE = 0.8
_WORDS = {
    SOUND: "it is sound",
    TREES: "it is sound, and late because of its trees",
    COLD: "it is sound, and late because of the cold",
    "leaked charge": "refrigerant has leaked",
    "sticking pivot": "its pivot sticks",
    "worn damper": "its damper is worn",
    "plates bent": "its shade plates are bent or lost",
    "out of balance": "it is out of balance",
    "stuck": "it is stuck",
}


def diagnosis_answer(found: RackDiagnosis, system: System, *, site: SiteLosses | None = None) -> Answer:
    """What ails the rack: the likely conditions, when a sound one would have moved, and what to look at tomorrow.

    `site` says what a repair wins; without it that is left out.
    """
    return Answer(
        headline=headline(found),
        blocks=(
            *sentences(waiting_words(found)),
            *timed_tables(found),
            Table(header=("Condition", "likely"), rows=tuple(condition_rows(found)), title="How likely each is"),
            *sentences(*seen_words(found), unchecked_words(found), tomorrow_words(found), alike_words(found)),
            *sentences("" if site is None else repair_words(found, site, system)),
            Caution(text=SAFETY),
            Note(text=NOTE),
            Sentence(text=last_words(found)),
        ),
        summary={**found.summary(), **({} if site is None else {"site": site.summary()})},
    )  # fmt: skip


def headline(found: RackDiagnosis) -> str:
    """The likely condition with its probability, and the next one unless the first is all but certain."""
    first, second = found.likely[:2]
    count = len(found.mornings)
    told = f"{found.job.site.name}: by {count} {'morning' if count == 1 else 'mornings'} watched, "
    told += f"{'most likely ' if first.probability < _SURE else ''}{_WORDS[first.name]} ({_percent(first.probability)})"
    if second.probability >= 1 - _SURE - 0.1:
        told += f"; or {_WORDS[second.name]} ({_percent(second.probability)})"
    unchecked = len(found.not_looked_at)
    return told + (f". Not checked yet: {counted(unchecked, 'thing')}, named below." if unchecked else ".")


def _percent(share: float) -> str:
    return f"{min(max(100 * share, 1), 99):.0f} %"


def waiting_words(found: RackDiagnosis) -> str:
    """What makes a sound rack wait here, if anything."""
    parts = []
    if found.waits_for_trees_min >= 1:
        parts.append(f"{found.waits_for_trees_min:.0f} min longer for its trees")
    if found.waits_for_warmth_min >= 1:
        parts.append(f"{found.waits_for_warmth_min:.0f} min longer for the cold")
    return f"On these mornings a sound rack waits {' and '.join(parts)}." if parts else ""


def timed_tables(found: RackDiagnosis) -> tuple[Table, ...]:
    """Moments that were timed beside those of a sound rack, by the site's clock; no table where none was."""
    rows = []
    for n, morning in enumerate(found.mornings):
        for words, moment, span in (
            ("passes its centre", morning.flip, found.sound_flip[n]),
            ("faces the sun", morning.facing, found.sound_facing[n]),
        ):
            if moment is not None:
                rows.append((f"{morning.date} {words}", *_clocks(found, morning.date, moment, span)))
    return (Table(header=("The rack", "seen", "a sound rack", "early", "late"), rows=tuple(rows)),) if rows else ()


def _clocks(found: RackDiagnosis, date: dt.date, moment: SeenMoment, span: SoundSpan | None) -> tuple[str, ...]:
    """When it was seen, and when a sound rack does it: likely, early and late."""

    def clock(minute: float) -> str:
        return hhmm(wall_time(found.job.site, date, round(minute)))

    seen = f"not by {clock(moment.minute)}" if moment.not_yet else clock(moment.minute)
    return (seen, "not at all", "", "") if span is None else (seen, *map(clock, (span.likely, span.early, span.late)))


def condition_rows(found: RackDiagnosis) -> list[tuple[str, ...]]:
    """Conditions that are not all but impossible."""
    return [(each.name, _percent(each.probability)) for each in _told(found)]


def _told(found: RackDiagnosis) -> list[Likely]:
    return [each for each in found.likely if each.probability >= _UNLIKELY]


def seen_words(found: RackDiagnosis) -> tuple[str, ...]:
    """Of the likely conditions, what a technician sees and what mends it."""
    told = []
    for each in _told(found)[:3]:
        condition = CONDITIONS[each.condition]
        mends = "" if each.condition == SOUND else f" To mend it: {condition.mends}."
        told.append(f"{each.name.capitalize()}: {condition.sees}.{mends}")
    return tuple(told)


def unchecked_words(found: RackDiagnosis) -> str:
    """The checks that nobody has made, without which the percentages are; empty where all were made."""
    checks = [f"note {WATCHED[name][0]}" if name in WATCHED else SIGNS[name].question for name in found.not_looked_at]
    return f"Not checked yet, and the percentages are without it: {'; '.join(checks)}." if checks else ""


def tomorrow_words(found: RackDiagnosis) -> str:
    """The observation that would tell most, and the next other one: the same thing on a cold morning is no other."""
    useful = [each for each in found.proposals if each.bits >= 0.02]
    if not useful:
        return "No one look tomorrow is expected to change these percentages much."
    first = f"Tomorrow, {useful[0].words}: of all that could be looked at this would tell most"
    others = [each for each in useful if each.looks_at != useful[0].looks_at]
    return first + (f"; next, {others[0].words}." if others else ".")


def alike_words(found: RackDiagnosis) -> str:
    """Conditions that these mornings hardly tell apart, of those still likely."""
    likely = {each.condition for each in _told(found)}
    pairs = [f"“{one}” and “{other}”" for one, other in found.alike if one in likely and other in likely]
    if not pairs:
        return ""
    return f"By times and angle on such mornings {'; '.join(pairs)} can hardly be told apart: look for the signs."


def repair_words(found: RackDiagnosis, site: SiteLosses, system: System) -> str:
    """What a repair wins here; empty for a rack that is most likely sound."""
    if found.first.condition == SOUND:
        return ""
    cloudless = CLOUDLESS if site.own.job.weather.clear_sky else ""
    told = (site_words(site, system), cloudless, _of_which_rack(found), "What a repair costs is not known here.")
    return " ".join(filter(None, told))


def _of_which_rack(found: RackDiagnosis) -> str:
    """Which rack the water of a repair is of."""
    watched, rack = found.watched, found.job.rack
    if watched is not None:
        late = f"a delay of {watched.delay_min:.0f} min"
        if watched.delay_min >= LONGEST_DELAY_MIN:
            late = "so late that an ordinary morning does not turn it"
        return (
            f"These figures are of the rack as it flipped on these mornings, {late}, where the job has "
            f"{watched.job_delay_min:.0f} min, and as if it then came to face the sun: one that stops short loses more."
        )
    if rack.kind == "delayed":
        delay = f", a delay of {rack.flip_delay_min:.0f} min," if rack.flip_threshold_w_m2 is None else ""
        return f"These figures are of the job's rack{delay} and not of the rack as watched: no flip was timed."
    return "These figures are of the rack as the job describes it, not as it was watched."


def last_words(found: RackDiagnosis) -> str:
    """One sentence to go by, and how sure it is."""
    first = found.first
    if first.probability < _SURE:
        return "In short: look once more before anything is taken apart."
    sure = f"In short: {_percent(first.probability)} sure that {_WORDS[first.name]}"
    if first.condition == SOUND:
        return f"{sure}; leave the rack as it is{', and make the checks named above' if found.not_looked_at else ''}."
    return f"{sure}; once the rack itself shows it: {CONDITIONS[first.condition].mends}."
