"""What a diagnosis of the light's closure suggests, in a sentence or two."""

from __future__ import annotations

from trackersim.weather.closure import Cause, Diagnosis

# Which column may be left empty, so that the reader computes it from the other two.
_REBUILT: dict[Cause, str] = {
    "no_dni": "direct light", "scale_dni": "direct light", "beam_on_level": "direct light",
    "no_dhi": "diffuse light", "scale_dhi": "diffuse light",
    "no_ghi": "global light", "scale_ghi": "global light", "leans": "global light",
}  # fmt: skip
_SUSPECT: dict[Cause, str] = {
    "no_dni": "Direct light reads nothing: a dead sensor, or a tracker that lost the sun.",
    "no_dhi": "Diffuse light reads nothing: a dead sensor.",
    "no_ghi": "Global light reads nothing: a dead sensor.",
    "beam_on_level": "Direct light looks like the beam on the level: already times the cosine of the sun's zenith.",
    "swapped_ghi_dhi": "The columns of global and diffuse light look exchanged.",
    "swapped_ghi_dni": "The columns of global and direct light look exchanged.",
    "swapped_dni_dhi": "The columns of direct and diffuse light look exchanged.",
    "unknown": "No single cause explains it: look at shade, dirt, the tracker and the shadow ball of each sensor.",
}
_SCALED: dict[Cause, str] = {"scale_dni": "direct", "scale_dhi": "diffuse", "scale_ghi": "global"}


def cause_words(found: Diagnosis) -> str:
    """The likely cause, and what to do where a measure can be rebuilt from the two others."""
    by_clock = found.late_min is not None
    return f"{_cause(found)}{'' if by_clock else _proposal(found.cause)}"


def _cause(found: Diagnosis) -> str:
    if found.cause in _SCALED:
        return f"The {_SCALED[found.cause]} light looks {found.factor:.2f} times what it should be: a sensor's factor."
    if found.cause == "leans":
        lean = f"The global sensor seems to lean {found.lean_deg:.0f}° toward {found.toward_deg:.0f}°"
        if found.late_min is None:
            return f"{lean}."
        word = "late" if found.late_min > 0 else "early"
        return f"{lean}, or the clock is {abs(found.late_min):.0f} min {word}."
    return _SUSPECT[found.cause]


def _proposal(cause: Cause) -> str:
    if cause not in _REBUILT:
        return ""
    return f" Leave the cells of {_REBUILT[cause]} empty there, and they are computed from the other two."
