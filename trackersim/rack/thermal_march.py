"""One thermal rack by steps, and its days one after the other: compiled.

What a rack does is told in `rack.thermal`, and `rack.thermal_year` calls what stands here.
"""

from __future__ import annotations

import math

from trackersim.arrays import FloatArray
from trackersim.compiled import compiled, kept
from trackersim.rack.refrigerant import COLDEST_C, HOTTEST_C, PLACES_A_KELVIN
from trackersim.rack.shade_plates import ABEAM_DEG, BEHIND_WITHIN_DEG
from trackersim.rack.thermal import Acting, Forcing, Lean, Now, Numbers, Side
from trackersim.rack.tube import TURBULENT_POWER

_RADIAN = math.pi / 180
# Rounds in which a step finds the drag of the flow that this drag lets through, and the share of the way in logarithms:
# 1/1.75 is right at once where Δp ∝ ṁ^1.75 alone counts.
_DRAG_ROUNDS, _DRAG_SHARE = 3, 1 / (1 + TURBULENT_POWER)
# A torque below this is rounding: friction holds the rack.
_HELD_NM = 1e-6
# Of a rack that runs away from its place a step takes no more than this into account; shorter steps say the rest.
_MOST_RUNAWAY = -1.0
# A rack that turns farther than this within a step, or moves more than this share of its liquid, takes the step again
# in this many shorter ones: a swing is over in minutes.
_SWIFT_DEG, _SWIFT_SHARE, _SWIFT_STEPS = 1.0, 0.01, 4
# A rack that follows the sun and swings back once travels four times its largest rotation. Where one travels more than
# this many times it, the day is taken again by shorter steps: steps of a minute make a rack hunt that does not, near
# the frost in which it begins to. The morning after begins as it would have without.
_RESTLESS_TRAVEL = 15.0


@compiled
def _step(rack: Numbers, table: FloatArray, now: Now, acting: Acting, seconds: float) -> tuple[Now, float]:
    """The rack after a step, and the liquid that went from west to east [kg]."""
    lean = _leaning(rack, now, acting, seconds)
    west_w, east_w = _absorbed_w(rack, lean.middle_deg, acting)
    west_kg, east_kg = now.west_kg + rack.residual_kg, rack.liquid_kg - now.west_kg + rack.residual_kg
    west = _side_of(rack, table, now.west_c, now.west_liquid_c, west_kg, west_w - acting.sky_w, acting, seconds)
    east = _side_of(rack, table, now.east_c, now.east_liquid_c, east_kg, east_w + acting.sky_w, acting, seconds)
    moved = _moved_kg(rack, now.west_kg, acting, lean, west, east, seconds)
    # The side that the liquid leaves fills with vapour, the other condenses as much.
    west_c, west_liquid_c = _warmed_c(now.west_c, now.west_liquid_c, west, -moved)
    east_c, east_liquid_c = _warmed_c(now.east_c, now.east_liquid_c, east, moved)
    # What has moved is stirred into what was there; the source keeps its own warmth.
    left_kg = min(max(now.west_kg - moved, 0.0), rack.liquid_kg)
    share = moved / (rack.residual_kg + (rack.liquid_kg - left_kg if moved > 0 else left_kg))
    apart_k = west_liquid_c - east_liquid_c
    west_liquid_c += min(share, 0.0) * apart_k
    east_liquid_c += max(share, 0.0) * apart_k
    turned_deg = lean.turn_deg_nm * _less_friction_nm(rack, lean.torque_nm - lean.per_kg_nm * moved)
    rotation_deg = _between_stops_deg(rack, now.rotation_deg + turned_deg)
    return Now(west_c, east_c, left_kg, rotation_deg, west_liquid_c, east_liquid_c), moved


@compiled
def _side_of(
    rack: Numbers,
    table: FloatArray,
    wall_c: float,
    liquid_c: float,
    held_kg: float,
    taken_w: float,
    acting: Acting,
    seconds: float,
) -> Side:
    """A canister that holds so much and takes up so much, within a step of any length.

    (1 − e^−X)/X by (1 + X/6)/(1 + 2X/3 + X²/6): right to the third order and never unstable, since 1 − X times it is a
    Padé approximant of e^−X that fades at large X. Sum and product of X's roots are all it needs.
    """
    pressure_pa, slope_pa_k, latent_j_kg = _properties(table, wall_c)
    settle = seconds / rack.mixing_s
    exchange = held_kg * settle * rack.liquid_j_kg_k / rack.shell_j_k
    loss = acting.loss_w_k * seconds / rack.shell_j_k
    product = loss * settle
    leaving = exchange + loss
    six = (leaving + settle) * 6  # times the sum of X's roots
    inverse = 6 / (six * (six + 24 + 4 * product) + 6 * (36 + product * (4 + product)))
    uneven = (six + 18 + product) * inverse
    even = 1 - (six / 2 + 6 + product) * product * inverse
    wall, across, along = even - uneven * leaving, uneven * exchange, uneven * settle
    gap_k = wall_c - liquid_c
    lost_w = acting.loss_w_k * (wall_c - acting.air_c)
    warming_k = (taken_w - lost_w) * seconds / rack.shell_j_k - exchange * gap_k
    settling_k = settle * gap_k
    chill_k_kg = latent_j_kg / rack.shell_j_k
    return Side(
        pressure_pa,
        chill_k_kg,
        warming_k,
        settling_k,
        wall,
        across,
        along,
        even - along,
        slope_pa_k * (wall * warming_k + across * settling_k),
        slope_pa_k * wall * chill_k_kg,
    )


@compiled
def _moved_kg(
    rack: Numbers, west_kg: float, acting: Acting, lean: Lean, west: Side, east: Side, seconds: float
) -> float:
    """What flows from west to east within a step [kg], by the pressure difference less the lift.

    The flow itself changes the pressures by evaporation and condensation; what they have become in the mean of a step
    counts by half or, where that is quick, in full. Drag grows with the flow, which is found by turns.
    """
    pressing_pa = west.pressure_pa - east.pressure_pa - acting.lift_pa * lean.sine
    gap_pa = west.warmer_pa - east.warmer_pa
    given = seconds * (west.answer_pa_kg + east.answer_pa_kg)
    yields = seconds * acting.lift_pa * lean.yields_kg
    drag = acting.laminar_pa_s_kg
    moved = 0.0
    for turn in range(_DRAG_ROUNDS + 1):
        if turn > 0:
            turbulent = acting.turbulent_pa_s_kg * abs(moved / seconds) ** TURBULENT_POWER
            if turn == 1 and turbulent <= drag:
                break
            drag = drag ** (1 - _DRAG_SHARE) * max(turbulent, acting.laminar_pa_s_kg) ** _DRAG_SHARE
        weight = (3 * drag + given) / (6 * drag + given)
        # However fast the lift gives way, a flow never meets less than a quarter of its drag within one step.
        whole = drag + weight * given
        whole = max(whole - yields, 0.25 * whole)
        # No more can leave a side than it still holds.
        moved = min(max(seconds * (pressing_pa + weight * gap_pa) / whole, west_kg - rack.liquid_kg), west_kg)
    return moved


@compiled
def _warmed_c(wall_c: float, liquid_c: float, side: Side, came_kg: float) -> tuple[float, float]:
    """Wall and liquid of a canister at the end of a step in which so much has come, before it is stirred in [°C]."""
    warming_k = side.warming_k + side.chill_k_kg * came_kg
    return (
        wall_c + side.wall * warming_k + side.across * side.settling_k,
        liquid_c + side.liquid * side.settling_k + side.along * warming_k,
    )


@compiled
def _leaning(rack: Numbers, now: Now, acting: Acting, seconds: float) -> Lean:
    """The rack at its angle, damped; weight and balance give way as it turns, so that it cannot overshoot its rest.

    Liquid that moves evenly through the step turns it by half of what it would from the start, or in full if the rack
    is quick to follow.
    """
    sine = math.sin(now.rotation_deg * _RADIAN)
    cosine = math.sqrt(1 - sine * sine)  # no rack turns beyond 90°
    wind_nm = acting.wind_moment_nm
    uneven_kg = 2 * now.west_kg - rack.liquid_kg
    rate = rack.weight_m2_s2 * uneven_kg * sine + rack.upright_nm * cosine - wind_nm * (2 - 4 * sine * sine)
    rate = max(rate * seconds / rack.damping_nms, _MOST_RUNAWAY)
    torque_nm = (rack.weight_m2_s2 * uneven_kg + wind_nm * 2 * sine) * cosine - rack.upright_nm * sine
    # (1 − e^−x)/x to third order: the mean, over a step, of what relaxes x times within it. Never unstable.
    turn_deg_nm = seconds / rack.damping_nms / _RADIAN / (1 + rate * (0.5 + rate / 12))
    part = (3 + rate) / (6 + rate)
    per_kg_nm = 2 * rack.weight_m2_s2 * cosine * part
    free_nm = _less_friction_nm(rack, torque_nm)
    middle_deg = _between_stops_deg(rack, now.rotation_deg + 0.5 * turn_deg_nm * free_nm)
    yields_kg = 0.5 * _RADIAN * turn_deg_nm * part * per_kg_nm * cosine if abs(free_nm) > _HELD_NM else 0.0
    middle_sine = sine + cosine * ((middle_deg - now.rotation_deg) * _RADIAN)
    return Lean(middle_deg, middle_sine, torque_nm, per_kg_nm, turn_deg_nm, yields_kg)


@compiled
def _less_friction_nm(rack: Numbers, torque_nm: float) -> float:
    """What is left of a torque; 0 while friction holds."""
    return torque_nm - min(max(torque_nm, -rack.friction_nm), rack.friction_nm)


@compiled
def _between_stops_deg(rack: Numbers, rotation_deg: float) -> float:
    """A rotation no farther than the stops."""
    return min(max(rotation_deg, -rack.max_rotation_deg), rack.max_rotation_deg)


@compiled
def _absorbed_w(rack: Numbers, rotation_deg: float, acting: Acting) -> tuple[float, float]:
    """Light that the west and the east canister take up [W]."""
    west, east = _lit_share(rack, (acting.sun_rotation_deg - rotation_deg + 180) % 360 - 180)
    return acting.west_beam_w * west + acting.diffuse_w, acting.east_beam_w * east + acting.diffuse_w


@compiled
def _lit_share(rack: Numbers, offset_deg: float) -> tuple[float, float]:
    """Lit part of the west and the east canister with the sun so far west of the rack's normal.

    Bent or lost plates leave both canisters half lit, however far off the sun stands: they take away contrast, which is
    otherwise that of `shade_plates.plate_contrast`. Plates that pass light give each canister a share of what they keep
    from it.
    """
    contrast = min(max(offset_deg / rack.plate_angle_deg, -1.0), 1.0)
    behind = min(max((abs(offset_deg) - ABEAM_DEG) / BEHIND_WITHIN_DEG, 0.0), 1.0)
    contrast *= 1 - (1 - rack.plate_share_behind) * behind
    half, uneven = 0.5 + 0.5 * rack.plates_pass, 0.5 * (1 - rack.plates_pass) * rack.plates * contrast
    return half - uneven, half + uneven


@compiled
def _properties(table: FloatArray, temperature_c: float) -> tuple[float, float, float]:
    """Pressure [Pa], its slope [Pa/K] and heat per liquid moved [J/kg], as `refrigerant.march_properties`."""
    if not temperature_c > COLDEST_C:  # nor a number: compiled code would read from anywhere
        temperature_c = COLDEST_C
    place = (min(temperature_c, HOTTEST_C) - COLDEST_C) * PLACES_A_KELVIN
    at = int(place)
    share = place - at
    return (
        table[0, at] + table[3, at] * share,
        table[1, at] + table[4, at] * share,
        table[2, at] + table[5, at] * share,
    )


@kept
def follow(
    numbers: tuple[float, ...],
    table: FloatArray,
    state: tuple[float, ...],
    forcings: tuple[FloatArray, ...],
    beam_share: FloatArray,
    substeps: int,
    restless_steps: int,
    dark_stride_min: int,
    told: FloatArray,
) -> None:
    """One rack through its days, one after the other, from a state.

    Parameters
    ----------
    numbers : tuple[float, ...]
        Of the rack, as `numbers_of`.
    table : FloatArray
        Shape (6, places). The refrigerant's `march_table`.
    state : tuple[float, ...]
        In which the first day begins, as `Now`.
    forcings : tuple[FloatArray, ...]
        As `Forcing`, each (days, minutes).
    beam_share : FloatArray
        Shape (3, 2, days, minutes), as `thermal_year.march_thermal` takes it, or of no days where nothing stands in the
        way.
    substeps : int
        Steps a minute.
    restless_steps : int
        Steps a minute of days that are taken again; none is where these are no more.
    dark_stride_min : int
        Minutes of a stride through the dark.
    told : FloatArray
        Shape (4, days, minutes). Rotation [degrees], liquid in the west [kg] and walls west and east [°C] at the
        centres of minutes are written here.

    Returns
    -------
    None
        All is written into `told`.
    """
    rack, now, forcing = Numbers(*numbers), Now(*state), Forcing(*forcings)
    for day in range(told.shape[1]):
        morning = now
        now = _through(rack, table, now, forcing, beam_share, day, substeps, dark_stride_min, told)
        travel_deg = 0.0
        for minute in range(1, told.shape[2]):
            travel_deg += abs(told[0, day, minute] - told[0, day, minute - 1])
        if travel_deg > _RESTLESS_TRAVEL * rack.max_rotation_deg and substeps < restless_steps:
            _through(rack, table, morning, forcing, beam_share, day, restless_steps, dark_stride_min, told)


@compiled
def _through(
    rack: Numbers,
    table: FloatArray,
    now: Now,
    forcing: Forcing,
    beam_share: FloatArray,
    day: int,
    substeps: int,
    dark_stride_min: int,
    told: FloatArray,
) -> Now:
    """One rack through one day; the state in which that ends.

    Strides through the dark take several minutes. A step in which the rack turns far is not taken; finer ones take its
    place.
    """
    minutes = told.shape[2]
    minute = 0
    while minute < minutes:
        length = 1
        if _dark(forcing, day, minute):
            while length < dark_stride_min and minute + length < minutes and _dark(forcing, day, minute + length):
                length += 1
        begun = now
        coarse_s = 60.0 * length / substeps
        done_s = fine_until_s = 0.0
        while done_s < 60.0 * length:
            fine = done_s < fine_until_s
            seconds = min(coarse_s, 60.0) / _SWIFT_STEPS if fine else coarse_s
            acting = _acting_at(rack, forcing, beam_share, day, minute + length // 2, now.rotation_deg)
            after, _ = _step(rack, table, now, acting, seconds)
            turned_deg, moved_kg = abs(after.rotation_deg - now.rotation_deg), abs(after.west_kg - now.west_kg)
            if not fine and (turned_deg > _SWIFT_DEG or moved_kg > _SWIFT_SHARE * rack.liquid_kg):
                fine_until_s = done_s + coarse_s
            else:
                now = after
                done_s += seconds
        for place in range(length):
            share = (place + 0.5) / length
            told[0, day, minute + place] = begun.rotation_deg + share * (now.rotation_deg - begun.rotation_deg)
            told[1, day, minute + place] = begun.west_kg + share * (now.west_kg - begun.west_kg)
            told[2, day, minute + place] = begun.west_c + share * (now.west_c - begun.west_c)
            told[3, day, minute + place] = begun.east_c + share * (now.east_c - begun.east_c)
        minute += length
    return now


@compiled
def _dark(forcing: Forcing, day: int, minute: int) -> bool:
    """No light, no wind that pushes, and no sky that one canister sees more of."""
    light_w = forcing.beam_w[day, minute] + forcing.diffuse_w[day, minute]
    return not (light_w > 0 or forcing.wind_moment_nm[day, minute] != 0 or forcing.sky_w[day, minute] != 0)


@compiled
def _acting_at(
    rack: Numbers, forcing: Forcing, beam_share: FloatArray, day: int, minute: int, rotation_deg: float
) -> Acting:
    """What acts on the rack in a minute, at its rotation: between the places that the canisters have at the stops and
    at centre, straight lines.
    """
    west_w = east_w = forcing.beam_w[day, minute]
    if beam_share.shape[2] > 0 and west_w > 0:
        stop, lean = 2 if rotation_deg > 0 else 0, abs(rotation_deg) / rack.max_rotation_deg
        west, east = beam_share[1, 0, day, minute], beam_share[1, 1, day, minute]
        west_w *= west + lean * (beam_share[stop, 0, day, minute] - west)
        east_w *= east + lean * (beam_share[stop, 1, day, minute] - east)
    return Acting(
        forcing.sun_rotation_deg[day, minute],
        west_w,
        east_w,
        forcing.diffuse_w[day, minute],
        forcing.air_c[day, minute],
        forcing.loss_w_k[day, minute],
        forcing.lift_pa[day, minute],
        forcing.laminar_pa_s_kg[day, minute],
        forcing.turbulent_pa_s_kg[day, minute],
        forcing.wind_moment_nm[day, minute],
        forcing.sky_w[day, minute],
    )


@kept
def step_each(
    numbers: tuple[float, ...], table: FloatArray, states: FloatArray, drives: FloatArray, seconds: FloatArray
) -> None:
    """One step of racks alike side by side.

    Parameters
    ----------
    numbers : tuple[float, ...]
        Of the racks, as `numbers_of`.
    table : FloatArray
        Shape (6, places). The refrigerant's `march_table`.
    states : FloatArray
        Shape (7, n). As `Now`, brought to the end of the step, and the liquid that moved west to east [kg].
    drives : FloatArray
        Shape (11, n). As `Acting`.
    seconds : FloatArray
        Shape (n,). Length of each one's step [s].

    Returns
    -------
    None
        All is written into `states`.
    """
    rack = Numbers(*numbers)
    for n in range(states.shape[1]):
        s, d = states[:, n], drives[:, n]
        acting = Acting(d[0], d[1], d[2], d[3], d[4], d[5], d[6], d[7], d[8], d[9], d[10])
        now, s[6] = _step(rack, table, Now(s[0], s[1], s[2], s[3], s[4], s[5]), acting, seconds[n])
        s[0], s[1], s[2], s[3], s[4], s[5] = now
