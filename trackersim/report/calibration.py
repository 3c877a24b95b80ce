"""What was learned from observations, in words and tables."""

from __future__ import annotations

from trackersim.analysis.calibration import NO_TURN_MIN, Learned, Learning
from trackersim.errors import counted
from trackersim.job.ranges import field_at
from trackersim.quantity_writing import field_shown
from trackersim.report.blocks import Answer, Sentence, Table, sentences
from trackersim.report.remarks import remark
from trackersim.units import System, rounded, show

_WORDS = {
    "rack.flip_delay": "the sun it needs until it swings east",
    "rack.flip_threshold": "the beam that just does not turn it",
    "rack.flip_dose": "what it needs beyond that until it swings",
    "rack.turning": "the time from stop to stop",
    "rack.lag": "how far it points behind the sun",
}


def learn_answer(learning: Learning, system: System) -> Answer:
    """What the observations say of some fields of the job, and how well they say it."""
    return Answer(
        headline=learn_sentence(learning, system),
        blocks=(
            learned_table(learning, system),
            *sentences(apart_words(learning, system)),
            seen_table(learning, system),
            *(remark(notice, system) for notice in learning.notices),
            Sentence(text=last_words(learning, system)),
        ),
        summary=learning.summary(),
    )


def learn_sentence(learning: Learning, system: System) -> str:
    """What the observations say, first."""
    name, seen = learning.job.site.name, counted(len(learning.observations), "observation")
    if not learning.fitted:
        return f"{name}: {seen} say nothing about what was asked; the job stays as it is."
    parts = [f"{_words(each)} is {figure(each, each.value, system)}" for each in learning.fitted]
    return f"{name}: by {seen} {' and '.join(parts)}."


def _words(field: Learned) -> str:
    return _WORDS.get(field.key, field.key)


def figure(field: Learned, value: float, system: System) -> str:
    """A value of a field with its unit, to three digits."""
    found = field_at(field.key)
    name = found.name if found else field.key
    number, unit = field_shown(value, name, system)
    return f"{rounded(number)}{unit}"


def learned_table(learning: Learning, system: System) -> Table:
    """One row for each field."""
    rows: list[tuple[str, ...]] = []
    for each in learning.fields:
        was, now, low, high = (figure(each, value, system) for value in (each.was, each.value, each.low, each.high))
        rows.append((each.key, was, *((now, low, high) if not each.held else ("as it was", "–", "–"))))
    return Table(header=("Field", "Was", "Is", "90 % from", "to"), rows=tuple(rows))


def apart_words(learning: Learning, system: System) -> str:
    """Which fields the observations can and cannot tell apart."""
    lines = [_left_words(each, system) for each in learning.fields if each.held]
    fitted = learning.fitted
    pairs = [(abs(learning.correlation[i][j]), i, j) for i in range(len(fitted)) for j in range(i)]
    if pairs:
        most, i, j = max(pairs)
        lines.append(f"{fitted[j].key} and {fitted[i].key} are told apart{_how_well(most)} (correlation {most:.2f}).")
    return " ".join(lines)


def _left_words(field: Learned, system: System) -> str:
    """Why a field was left as it is, and what that means for the intervals of the others."""
    told = f"{field.key} was left as it is: {field.held}"
    if not field.mixed:
        return f"{told}."
    own, low, high = (figure(field, value, system) for value in (field.value, field.low, field.high))
    if low == high:
        return f"{told}. What was learned holds only if it is {own}."
    return f"{told}. The intervals above count that it may lie between {low} and {high}."


def _how_well(correlation: float) -> str:
    return " well" if correlation < 0.5 else " fairly" if correlation < 0.8 else ", but poorly"


def seen_table(learning: Learning, system: System) -> Table:
    """Each observation beside what the job expected, and expects now."""
    rows: list[tuple[str, ...]] = []
    for seen, before, after in zip(learning.observations, learning.before, learning.after, strict=True):
        when = f"{seen.moment.wall:%Y-%m-%d %H:%M}"
        if seen.what in ("flip", "arrival"):
            rows.append((seen.what, when, "", _late(before - seen.value), _late(after - seen.value)))
        else:
            values = (_shown(value, seen.what, system) for value in (seen.value, before, after))
            rows.append((seen.what, when, *values))
    return Table(header=("Seen", "When", "Value", "Job before", "Now"), rows=tuple(rows))


def _late(minutes: float) -> str:
    if minutes > NO_TURN_MIN:
        return "none"
    word = "later" if minutes > 0 else "earlier"
    return f"{abs(minutes):.0f} min {word}" if abs(minutes) >= 0.5 else "same"


def _shown(value: float, what: str, system: System) -> str:
    if what == "flow":
        return show(value, "flow", system)
    return f"{value:.0f}{'°' if what == 'rotation' else ' V'}"


def last_words(learning: Learning, system: System) -> str:
    """One sentence to leave with the customer."""
    if not learning.fitted:
        watch = "watch one clear morning from sunrise until the rack has turned"
        return f"Nothing was learned; {watch if _turns(learning.fields[0]) else 'measure the flow in full sun'}."
    first = learning.fitted[0]
    low, high = (figure(first, value, system) for value in (first.low, first.high))
    told = f"From what was seen at your rack, {_words(first)} lies between {low} and {high}; "
    if learning.missed:
        return told + "but with it the rack does not turn when it was seen to: do not build on it yet."
    if mixed := [each.key for each in learning.fields if each.mixed]:
        return f"{told}what makes that surer is to measure {' and '.join(mixed)} by itself."
    more = "morning watched" if _turns(first) else "flow measured"
    return f"{told}another {more} makes that surer."


def _turns(field: Learned) -> bool:
    """Whether it acts on when the rack turns, so that mornings tell it."""
    return bool({"rack", "trees"} & set(field.key.split(".")))
