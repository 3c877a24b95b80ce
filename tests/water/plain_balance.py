"""The rules of a water balance told once more, minute by minute with no thought for speed; and what to try it on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trackersim.water.balance import Balance, StoreBounds, Sump, UnitControl, balance

Minutes = NDArray[np.float64]
LITRE = 1e-3


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
    control, sump = rules.pop("control", UnitControl()), rules.pop("sump", None)
    return balance(
        available_w=available,
        flow_if_running_m3_s=flow,
        controls=rules.pop("controls", [control] * units),
        sumps=rules.pop("sumps", [sump] * units),
        store=rules.pop("store", None),
        **rules,
    )


def steady(minutes: int, *, days: int = 1, units: int = 1, litres: float = 1.0, watts: float = 500.0) -> list[Minutes]:
    """Power and flow of units that could give `litres` a minute, always."""
    shape = (units, days, minutes)
    return [np.full(shape, watts), np.full(shape, litres * LITRE / 60)]


def sump(volume: float, *, start: float, low: float, restart: float, inflow: float = 0.0, delay: float = 0.0) -> Sump:
    """Litres, and litres a minute."""
    return Sump(
        volume_m3=volume * LITRE,
        start_volume_m3=start * LITRE,
        low_stop_m3=low * LITRE,
        restart_m3=restart * LITRE,
        inflow_m3_s=inflow * LITRE / 60,
        restart_delay_min=delay,
    )


def tank(capacity: float, *, start: float = 0.0, high: float, low: float, demand: Minutes | float = 0.0) -> StoreBounds:
    """Litres, and litres a minute."""
    return StoreBounds(
        capacity_m3=capacity * LITRE,
        start_m3=start * LITRE,
        demand_m3_s=np.asarray(demand) * LITRE / 60,
        high_float_m3=high * LITRE,
        low_float_m3=low * LITRE,
    )


def on_minutes(running: NDArray[np.bool_]) -> list[int]:
    """Minutes, counted from the first of all days, in which it runs."""
    return np.flatnonzero(running).tolist()


class PlainUnit:
    """One pump with its controller and its sump."""

    def __init__(self, control: UnitControl, sump: Sump | None) -> None:
        self.c, self.s = control, sump
        self.ran = self.would_run = False
        self.volume = sump.start_volume_m3 if sump else 0.0
        self.source_low = bool(sump) and self.volume <= sump.low_stop_m3
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
        enough = power > 0 and power >= c.stop_w
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
        if self.volume > self.s.volume_m3:
            self.count["overflow"] += self.volume - self.s.volume_m3
            self.volume = self.s.volume_m3
        if not self.source_low:
            if self.volume <= self.s.low_stop_m3:
                self.source_low, self.until_restart = True, None
            return
        if self.until_restart is None and self.volume >= self.s.restart_m3:
            self.until_restart = self.s.restart_delay_min
        elif self.until_restart is not None:
            self.until_restart -= 1
        self.source_low = self.until_restart is None or self.until_restart > 0

    def cuts_out(self, pumped: float) -> bool:
        c = self.c
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
    controls: Sequence[UnitControl],
    sumps: Sequence[Sump | None],
    store: StoreBounds | None,
) -> dict[str, Any]:
    """Everything `balance` gives, by unit, day and minute; counts by unit and day."""
    shape = available.shape
    units = [PlainUnit(control, sump) for control, sump in zip(controls, sumps, strict=True)]
    running, pumped, sump_volume = np.zeros(shape, dtype=bool), np.zeros(shape), np.zeros(shape)
    volume = np.zeros(shape[1:])
    counts: list[list[Counter[str]]] = [[] for _ in units]
    water: list[Counter[str]] = []
    level = store.start_m3 if store else 0.0
    high = store.high_float_m3 if store and store.high_float_m3 is not None else np.inf
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
            over = max(level - store.capacity_m3, 0.0)
            level = min(level, store.capacity_m3)  # level − (level − capacity) may miss a float at the brim by rounding
            water[-1].update(delivered=taken, shortfall=wanted - taken, evaporated=dried, overflow=over)
            volume[at] = level
            if full and level <= store.low_float_m3:
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
