"""Which of a thermal rack's numbers matter, in words and in two tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackersim.analysis.rack_numbers import AIR_K, BEAM, PLATES_PASS, SHARE, SKY_VIEW, Moments, Moved, RackNumbers
from trackersim.arrays import FloatArray
from trackersim.report.blocks import Answer, Note, Sentence, Table, sentences
from trackersim.units import show_both

_WORDS = {
    "shade_plates": "shade plates",
    "absorptance": "absorptance",
    "plate_share_behind": "plates, sun behind",
    "liquid_kg": "liquid, or charge",
    "canister_diameter_m": "canister diameter",
    "canister_length_m": "canister length",
    "lever_m": "lever",
    "balance_m": "balance, or moving mass",
    "tube_bore_m": "tube bore",
    "pivot_friction_nm": "pivot friction",
    "damping_nms": "damper",
    "shell_j_k": "heat of the shell",
    "mixing_min": "mixing of the liquid",
    "residual_kg": "liquid that stays",
    "diffuse_share": "sky light",
    "plate_angle_deg": "plate angle",
    "heat_loss": "heat loss",
    "wind": "wind",
    "air": f"air ±{show_both(AIR_K, 'difference', digits=2)}",
    "beam": f"sunbeam × {BEAM:g}",
    "sky_view_difference": f"west sees {SKY_VIEW:g} less / more of the sky",
    "dew": "wholly wet with dew",
    "plates_pass": f"plates that pass {PLATES_PASS:.0%}",
}


def rack_answer(found: RackNumbers) -> Answer:
    """The headline, minutes of flip and of arrival season by season, what a watch can tell, and the cliff."""
    dates = tuple(f"{date:%d %b}" for date in found.dates)
    heads = ("Number", *dates)
    ordered = sorted(found.moved, key=lambda name: -_most(found.moved[name].lower, found.moved[name].higher, found))
    title = f"later (+) or earlier (−), minutes, with the number {SHARE:.0%} lower / higher"
    return Answer(
        headline=_headline(found, ordered),
        blocks=(
            Table(
                title=f"Flip: {title}",
                header=heads,
                rows=(
                    ("minutes after sunrise", *(_at(value) for value in found.usual.flip_min)),
                    *((_WORDS[name], *_cells(found.moved[name], found.usual, "flip_min")) for name in ordered),
                ),
            ),
            Table(
                title=f"Facing the sun: {title}",
                header=heads,
                rows=(
                    ("minutes after sunrise", *(_at(value) for value in found.usual.arrival_min)),
                    *((_WORDS[name], *_cells(found.moved[name], found.usual, "arrival_min")) for name in ordered),
                ),
            ),
            Sentence(text=cliff_words(found)),
            *sentences(*alike_words(found)),
            Note(
                text="Four clear days at this site, the rack by physics with the job's numbers. × no flip or arrival "
                "after sunrise: none at all, or it has turned before; – the number has no more room. Every number "
                "is an assumption until mornings have been watched."
            ),
        ),
        summary=found.summary(),
    )


def cliff_words(found: RackNumbers) -> str:
    """With which numbers the rack flips and then does not reach the sun."""
    if not found.cliff:
        return f"With none of them {SHARE:.0%} off does it flip and then fall short of the sun."
    told = ", ".join(f"{_WORDS[name]} {side}" for name, side in found.cliff)
    return (
        "Cliff: it flips and then does not reach the sun, or three quarters of an hour later than it should, "
        f"with {told}. Such a rack looks as if it "
        "worked, and stands short of the sun through the morning."
    )


def alike_words(found: RackNumbers) -> tuple[str, ...]:
    """How many mixtures watched mornings tell apart, and which numbers they cannot."""
    count = sum(value > 1 for value in found.singular)
    values = ", ".join(f"{value:.2g}" for value in found.singular)
    mixtures = "no mixture" if not count else "1 mixture" if count == 1 else f"{count} mixtures"
    first = (
        f"Flips watched on such mornings, each good to 4 min, settle {mixtures} of these numbers (singular values "
        f"{values}; what is below 1 tells less than is assumed already)."
    )
    groups = (
        f"They cannot tell apart: {', '.join(_WORDS[name] for name in names)}; all of them shift every flip in nearly "
        "one proportion."
        for names in found.alike
    )
    return (first, *groups)


def _headline(found: RackNumbers, ordered: Sequence[str]) -> str:
    first, second, third = (_WORDS[name] for name in ordered[:3])
    low, high = np.nanmin(found.usual.flip_min), np.nanmax(found.usual.flip_min)
    return (
        f"On four clear days this rack flips {low:.0f} to {high:.0f} min after sunrise; {first}, {second} and {third} "
        "move that most."
    )


def _most(lower: Moments | None, higher: Moments | None, found: RackNumbers) -> float:
    """Largest shift of a flip; a flip that is lost counts as more than any."""
    seen = np.isfinite(found.usual.flip_min)
    shifts = [np.abs(one.flip_min - found.usual.flip_min)[seen] for one in (lower, higher) if one is not None]
    return float(np.nan_to_num(np.concatenate(shifts), nan=1e9).max()) if shifts else 0.0


def _cells(moved: Moved, usual: Moments, moment: str) -> tuple[str, ...]:
    own = getattr(usual, moment)
    sides = [None if found is None else getattr(found, moment) for found in moved]
    return tuple(" / ".join(_shift(side, own, day) for side in sides) for day in range(len(own)))


def _shift(side: FloatArray | None, own: FloatArray, day: int) -> str:
    if side is None:
        return "–"
    shift = side[day] - own[day]
    return f"{shift:+.0f}".replace("-0", "0").replace("+0", "0").replace("-", "−") if np.isfinite(shift) else "×"


def _at(value: float) -> str:
    return f"{value:.0f}" if np.isfinite(value) else "×"
