"""What stands below the owner's card: when to call, what the card rests on, and the last sentence."""

from __future__ import annotations

from collections.abc import Sequence

from trackersim.analysis.day_ahead import Tomorrow
from trackersim.analysis.rack_turns import CALL_MORNINGS, RackTurn
from trackersim.clock import hhmm
from trackersim.report.words import stays_words
from trackersim.units import System, show, shown_number, unit_label

# A flow below this share of another is told from it by eye and bucket (assumption).
_CLEARLY_LESS = 0.9


def rack_called(card: Tomorrow, turn: RackTurn) -> str:
    """Which rack: "the rack" where all that wait turn alike."""
    if len(card.turns) == 1 and len(turn.units) == len(card.job.units):
        return "the racks" if len(turn.units) > 1 else "the rack"
    return f"the rack at {units_called(card, turn.units)}"


def units_called(card: Tomorrow, units: Sequence[int]) -> str:
    return " and ".join(card.job.unit_names[unit] for unit in units)


def call_words(card: Tomorrow, system: System) -> tuple[str, ...]:
    """When to call."""
    if card.days["clear"].total_m3 == 0:
        return ()
    lines = []
    for turn in card.turns:
        at = turn.call if turn.call is not None else turn.call_if_repeated
        if at is not None:
            faces = "face" if rack_called(card, turn) == "the racks" else "faces"
            on = "a sunny morning" if turn.call is not None else f"{CALL_MORNINGS} sunny mornings one after another"
            lines.append(f"Call if {rack_called(card, turn)} still {faces} west at {hhmm(card.clock(at))} on {on}.")
    if card.call_water is not None:
        # The runs behind that time are those in which every rack turns.
        stays = any(turn.flip.late is None for turn in card.turns)
        turned = f" and the {'racks' if len(card.job.units) > 1 else 'rack'} facing east" if stays else ""
        room = " with room in the tank" if _stops_full(card) else ""
        lines.append(
            f"Call if no water has come by {hhmm(card.clock(card.call_water))} under a clear sky{room}{turned}."
        )
    *fewer, every = card.levels_m3_s
    told_apart = [flow for flow in fewer if flow < _CLEARLY_LESS * every]
    if len(told_apart) > 1 and card.brightest is not None:
        most = shown_number(told_apart[-1], "flow", system, digits=2)
        best = hhmm(card.clock(card.brightest))
        lines.append(
            f"Call if no more than about {most} {unit_label('flow', system)} come at {best} under a clear sky while "
            "every source has water: a pump stands that should run."
        )
    least = show(card.call_m3, "volume", system)
    lines.append(f"Call if a whole clear day brings less than {least}.")
    if card.turns:
        lines.append(
            "Call, and stand clear, if the rack bangs or swings to and fro, hangs level all day, or shows an oily mark."
        )
    return tuple(lines)


def _stops_full(card: Tomorrow) -> bool:
    """Whether what the water goes to stops the pump when full: a field has no end, and a pond runs over."""
    return card.job.store.kind == "tank"


def note_words(card: Tomorrow) -> tuple[str, ...]:
    """What the card rests on."""
    sumps = any(unit.source.kind == "sump" for unit in card.job.units)
    full = " A full tank stops the pump, and that is right." if _stops_full(card) else ""
    full += " A collecting tank is taken as full some mornings before." if sumps else ""
    air = "the usual of the season" if card.air_c is None else "as told"
    stands = not card.job.unit and any(not one.whole for day in card.days.values() for one in day.running.values())
    bucket = (
        " A bucket fills in so many seconds while the pump runs. Where an hour says for how long it runs, it stands "
        "for the rest of that hour, and that is right."
        if stands and card.days["clear"].total_m3 > 0
        else ""
    )
    backup = "" if card.job.backup is None else f" What the {card.job.backup.kind} lifts comes beside all this."
    return (
        f"Note: this is no forecast. Air is {air}. Light cloud is half the sky under passing clouds. "
        "Nine mornings in ten should lie between early and late; wind, air, trees and rack are drawn as assumed."
        f"{full}{bucket}{backup}",
    )


def last_words(card: Tomorrow) -> str:
    """One sentence to end with, for the owner."""
    if card.days["clear"].total_m3 == 0:
        return "In short: do not expect water on this day."
    if card.turns and card.call_flip is not None:
        return (
            f"In short: if it is sunny, look at {rack_called(card, card.turns[0])} at "
            f"{hhmm(card.clock(card.call_flip))}; facing east and water running means that all is well."
        )
    if card.turns:
        return f"In short: {_no_call_words(card, card.turns[0])}, and that alone is no fault."
    return f"In short: if it is sunny and water runs by {hhmm(card.clock(card.call_water))}, all is well."


def _no_call_words(card: Tomorrow, turn: RackTurn) -> str:
    """What a sound rack may do that gives no time at which to call after one morning."""
    rack = rack_called(card, turn)
    if turn.flip.late is not None:
        return f"{rack} may turn as late as {hhmm(card.clock(turn.flip.late))}"
    stays = "stay" if rack == "the racks" else "stays"
    if turn.flip.early is None:
        return f"even under a clear sky {rack} {stays} west on such a day"
    return f"even under a clear sky {rack} {stays} west {stays_words(turn.never, turn.runs)}"
