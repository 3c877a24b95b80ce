"""The rules of a water balance told once more, minute by minute with no thought for speed; and what to try it on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from trackersim.job.electrics import Controller
from trackersim.job.pump import Pump
from trackersim.job.water import Source, Store
from trackersim.water.balance import Balance, balance

Minutes = NDArray[np.float64]
LITRE = 1e-3
WELL = Source(lift_m=0)


class Control(NamedTuple):
    """When a controller starts and stops a unit, and its pump's cut-out."""

    controller: Controller
    pump: Pump


class Sump(NamedTuple):
    """A sump and what runs into it, broadcastable to (days,)."""

    source: Source
    inflow_m3_s: Any


class Asked(NamedTuple):
    """A store, and what is asked of it, broadcastable to (days, minutes) and (days,)."""

    store: Store
    demand_m3_s: Any = 0.0
    evaporation_m3_s: Any = 0.0


def control(*, start_w: float = 0.0, stop_w: float = 0.0, start_delay_min: float = 0.0, **cutout: Any) -> Control:
    """By default it runs whenever there is power."""
    controller = Controller(rated_w=1e4, start_w=start_w, stop_w=stop_w, start_delay_min=start_delay_min)
    return Control(controller, Pump(rated_flow_m3_s=1e-3, rated_head_m=10, **cutout))


def sump_of_shares(volume_m3: float, *, low: float, restart: float, inflow_m3_s: Any, delay: float = 0.0) -> Sump:
    """`low` and `restart` are shares of its volume."""
    section = Source(kind="sump", lift_m=0, volume_m3=volume_m3, low_stop=low, restart=restart, restart_delay_min=delay)
    return Sump(section, inflow_m3_s)


def sunny(
    rng: np.random.Generator, units: int, days: int, *, polar: bool = False, length: int = 1440
) -> tuple[Minutes, Minutes]:
    """Power offered [W] and flow [m³/s] of units under one sun with clouds, (units, days, length)."""
    sun = np.sin((np.arange(length) / length - 0.25) * 2 * np.pi)
    sun = 0.55 + 0.45 * sun if polar else np.clip(sun, 0, None)
    cloud = np.clip(rng.normal(0.6, 0.35, (1, days, length // 5)), 0, 1).repeat(5, axis=2)
    available = 800 * sun * cloud * rng.uniform(0.8, 1.2, (units, 1, 1))
    return available, np.clip((available - rng.uniform(80, 160, (units, 1, 1))) * 1e-6, 0, None)


def run(available: Minutes, flow: Minutes, **rules: Any) -> Balance:
    """`balance`, with defaults for what a test does not care about; one control or sump is taken for all units."""
    units = len(available)
    controls = rules.pop("controls", [rules.pop("control", control())] * units)
    sumps = [sump or Sump(WELL, 0.0) for sump in rules.pop("sumps", [rules.pop("sump", None)] * units)]
    store = rules.pop("store", None)
    return balance(
        available_w=available,
        flow_if_running_m3_s=flow,
        controllers=[each.controller for each in controls],
        pumps=[each.pump for each in controls],
        sources=[sump.source for sump in sumps],
        inflow_m3_s=np.stack([np.broadcast_to(sump.inflow_m3_s, available.shape[1]) for sump in sumps]),
        **(store._asdict() if store else {}),
        **rules,
    )


def steady(minutes: int, *, days: int = 1, units: int = 1, litres: float = 1.0, watts: float = 500.0) -> list[Minutes]:
    """Power and flow of units that could give `litres` a minute, always."""
    shape = (units, days, minutes)
    return [np.full(shape, watts), np.full(shape, litres * LITRE / 60)]


def sump(volume: float, *, low: float, restart: float, inflow: float = 0.0, delay: float = 0.0) -> Sump:
    """Litres, and litres a minute."""
    shares = {"low": low / volume, "restart": restart / volume}
    return sump_of_shares(volume * LITRE, inflow_m3_s=inflow * LITRE / 60, delay=delay, **shares)


def tank(capacity: float, *, start: float = 0.0, high: float, low: float, demand: Minutes | float = 0.0) -> Asked:
    """Litres, and litres a minute."""
    shares = {"start": start / capacity, "high_float": high / capacity, "low_float": low / capacity}
    return Asked(Store(kind="tank", capacity_m3=capacity * LITRE, **shares), np.asarray(demand) * LITRE / 60)


def on_minutes(running: NDArray[np.bool_]) -> list[int]:
    """Minutes, counted from the first of all days, in which it runs."""
    return np.flatnonzero(running).tolist()


class PlainUnit:
    """One pump with its controller and its sump."""

    def __init__(self, control: Control, sump: Sump | None) -> None:
        self.c, self.cut, self.s = control.controller, control.pump, sump and sump.source
        self.ran = self.would_run = self.source_low = False
        self.full = self.s.volume_m3 if self.s else 0.0
        self.volume = self.full
        self.until_restart: float | None = None
        self.strong_min = self.weak_flow_min = self.good_flow_min = self.failed_tries = 0
        self.pause_min = 0.0
        self.off_today = False
        self.count: Counter[str] = Counter()

    def midnight(self) -> None:
        self.count = Counter()
        self.failed_tries, self.off_today = 0, False

    def minute(self, power: float, flow: float, inflow: float, tank_full: bool) -> float:
        c = self.c
        strong = power > 0 and power >= c.start_w
        enough = power > 0 and power >= c.stops_at_w
        delay_over = strong and self.strong_min >= c.start_delay_min
        self.strong_min = self.strong_min + 1 if strong else 0
        self.would_run = enough and (self.would_run or delay_over)
        held = (
            "full" if tank_full else "low" if self.source_low else "cut" if self.pause_min > 0 or self.off_today else ""
        )
        runs = enough and not held and (self.ran or delay_over)
        if not runs and (strong or self.would_run):
            if held:
                self.count["lost " + held] += 1
            elif strong:
                self.count["lost delay"] += 1
        if self.ran and not runs:
            self.count["stop " + (held if enough else "power")] += 1
        if runs and not self.ran:
            self.count["start"] += 1
            self.weak_flow_min = self.good_flow_min = 0
        self.pause_min = max(self.pause_min - 1, 0)
        pumped = self.pump(flow, inflow) if runs else 0.0
        self.fill(inflow, pumped)
        self.ran = runs and not self.cuts_out(pumped)
        self.running = runs
        return pumped

    def pump(self, flow: float, inflow: float) -> float:
        return min(flow * 60, self.volume + inflow) if self.s else flow * 60

    def fill(self, inflow: float, pumped: float) -> None:
        if self.s is None:
            return
        self.volume = self.volume + inflow - pumped
        if self.volume > self.full:
            self.count["overflow"] += self.volume - self.full
            self.volume = self.full
        if not self.source_low:
            if self.volume <= self.s.low_stop * self.full:
                self.source_low, self.until_restart = True, None
            return
        if self.until_restart is None and self.volume >= self.s.restart * self.full:
            self.until_restart = self.s.restart_delay_min
        elif self.until_restart is not None:
            self.until_restart -= 1
        self.source_low = self.until_restart is None or self.until_restart > 0

    def cuts_out(self, pumped: float) -> bool:
        c = self.cut
        if c.cutout_flow_m3_s <= 0:
            return False
        if pumped >= c.cutout_flow_m3_s * 60:
            self.weak_flow_min, self.good_flow_min = 0, self.good_flow_min + 1
            if self.good_flow_min > c.cutout_delay_min:
                self.failed_tries = 0
            return False
        self.weak_flow_min, self.good_flow_min = self.weak_flow_min + 1, 0
        if self.weak_flow_min < c.cutout_delay_min:
            return False
        self.pause_min = c.cutout_retry_min
        self.failed_tries += 1
        self.off_today = c.cutout_tries > 0 and self.failed_tries >= c.cutout_tries
        self.count["stop cut"] += 1
        return True


def plain_loop(
    available: Minutes,
    flow: Minutes,
    *,
    controls: Sequence[Control],
    sumps: Sequence[Sump | None],
    store: Asked | None,
) -> dict[str, Any]:
    """Everything `balance` gives, by unit, day and minute; counts by unit and day."""
    shape = available.shape
    units = [PlainUnit(control, sump) for control, sump in zip(controls, sumps, strict=True)]
    running, pumped, sump_volume = np.zeros(shape, dtype=bool), np.zeros(shape), np.zeros(shape)
    volume = np.zeros(shape[1:])
    counts: list[list[Counter[str]]] = [[] for _ in units]
    water: list[Counter[str]] = []
    capacity = store.store.capacity_m3 if store else 0.0
    level = store.store.start * capacity if store else 0.0
    has_floats = store is not None and store.store.kind == "tank"
    high, low = (
        (store.store.high_float * capacity, store.store.low_float * capacity) if has_floats else (np.inf, np.inf)
    )
    full = level >= high
    inflow = [np.broadcast_to(sump.inflow_m3_s if sump else 0.0, shape[1]) for sump in sumps]
    demand = np.broadcast_to(store.demand_m3_s if store else 0.0, shape[1:])
    evaporation = np.broadcast_to(store.evaporation_m3_s if store else 0.0, shape[1])
    for day in range(shape[1]):
        water.append(Counter())
        for unit in units:
            unit.midnight()
        for minute in range(shape[2]):
            at = (day, minute)
            arrived = 0.0
            for number, unit in enumerate(units):
                where = (number, *at)
                pumped[where] = unit.minute(available[where], flow[where], inflow[number][day] * 60, full)
                running[where], sump_volume[where] = unit.running, unit.volume
                arrived += pumped[where]
            if store is None:
                water[-1]["delivered"] += arrived
                continue
            level += arrived
            wanted = demand[at] * 60
            taken = min(wanted, level)
            level -= taken
            dried = min(evaporation[day] * 60, level)
            level -= dried
            over = max(level - capacity, 0.0)
            level = min(level, capacity)  # level − (level − capacity) may miss a float at the brim by rounding
            water[-1].update(delivered=taken, shortfall=wanted - taken, evaporated=dried, overflow=over)
            volume[at] = level
            if full and level <= low:
                full = False
            elif not full and level >= high:
                full = True
        for unit, tally in zip(units, counts, strict=True):
            tally.append(unit.count)
    return {
        "running": running,
        "pumped_m3": pumped,
        "sump_volume_m3": sump_volume,
        "store_volume_m3": volume,
        "counts": counts,
        "water": water,
    }
