"""The water side in words and tables."""

from __future__ import annotations

from trackersim.analysis.hydraulics import HeadParts, WaterReport
from trackersim.errors import counted
from trackersim.report.blocks import Answer, Caution, Table, sentences
from trackersim.report.pump_states import pump_state_tables
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.words import AT_THE_WELL, MONTHS, listed
from trackersim.units import System, show, shown_number, unit_label

_CAUSES = {
    "tank full": "the tank was full",
    "source low": "the source was low",
    "low-flow cut-out": "the low-flow cut-out held it",
    "start delay": "the controller waited to start",
}
CAUTION = f"{AT_THE_WELL} Local codes and licensed practice decide."


_NOTHING_M3 = 1e-3


def water_answer(report: WaterReport, system: System) -> Answer:
    """Lift and friction, where the pump runs, what stopped it, what became of the water, months that fall short."""
    told = (stop_words(report), balance_words(report, system), short_words(report, system))
    return Answer(
        headline=head_words(report, system),
        blocks=(
            point_table(report, system),
            *sentences(" ".join(filter(None, told))),
            *pump_state_tables(report.result, system),
            *short_tables(report, system),
            Caution(text=CAUTION),
            *closing_of(system, report.result),
        ),
        dangers=dangers_of(system, report.result),
        summary=report.summary(),
    )


def head_words(report: WaterReport, system: System) -> str:
    """Where the head goes at full power, a sentence for each unit."""
    return " ".join(_head_sentence(part, system) for part in report.heads)


def _head_sentence(part: HeadParts, system: System) -> str:
    who = f"{part.unit}: " if part.unit else ""
    if part.flow_m3_s <= 0:
        return f"{who}At full power the pump gives no water against {show(part.lift_m, 'length', system)} of lift."
    pieces = [f"{show(part.lift_m, 'length', system)} of lift"]
    if part.drawdown_m > 0:
        pieces.append(f"{show(part.drawdown_m, 'length', system)} of drawdown")
    pieces.append(f"{show(part.friction_m + part.fittings_m, 'length', system)} in pipe and fittings")
    return (
        f"{who}At full power the pump gives {show(part.flow_m3_s, 'flow', system)} against "
        f"{show(part.head_m, 'length', system)}: {listed(pieces)} "
        f"(friction alone {show(part.friction_m, 'length', system)} by Hazen–Williams, "
        f"{show(part.friction_darcy_m, 'length', system)} by Darcy–Weisbach)."
    )


def point_table(report: WaterReport, system: System) -> Table:
    """Where each pump runs on its curve."""
    flow, head = f"flow {unit_label('flow', system)}", f"head {unit_label('length', system)}"
    rows = (
        (
            f"{point.unit} {100 * point.share:.0f} %".strip(),
            f"{point.power_w:.0f}",
            shown_number(point.flow_m3_s, "flow", system),
            shown_number(point.head_m, "length", system),
            f"{100 * point.efficiency:.0f} %",
        )
        for point in report.points
    )
    return Table(header=("pump at", "power W", flow, head, "wire to water"), rows=tuple(rows))


def stop_words(report: WaterReport) -> str:
    """Starts a day, and minutes in which the pump had the power to run and was held."""
    days = report.result.days
    starts = float(report.result.water.starts.mean())
    lost = [
        f"{_spent(minutes / days)} because {_CAUSES[cause]}" for cause, minutes in report.lost_min.items() if minutes
    ]
    several = bool(report.result.job.unit)
    told = (
        f"The pumps start {starts:.1f} times a day, all together."
        if several
        else f"The pump starts {starts:.1f} times a day."
    )
    subject, held = ("they", "they stood, all together and,") if several else ("it", "it stood,")
    if not lost:
        return told
    return f"{told} Although {subject} had the power to run, {held} on an average day, {', '.join(lost)}."


def _spent(minutes: float) -> str:
    return "less than a minute" if minutes < 0.5 else f"{minutes:.0f} min"


def balance_words(report: WaterReport, system: System) -> str:
    """What became of the water; empty where the store is not followed."""
    if report.balance is None:
        return ""
    parts = {name: show(value, "volume", system) for name, value in report.balance.items()}
    lost = [f"{parts[name]} {word}" for name, word in (("overflow", "flowed over"), ("evaporated", "went into the air"))
            if report.balance[name] > 0]  # fmt: skip
    return (
        f"Of {parts['pumped']} pumped, {parts['delivered']} were used"
        + (f", {' and '.join(lost)}" if lost else "")
        + f"; the {report.result.job.store.kind} went from {parts['start']} to {parts['end']}."
        + (f" {parts['shortfall']} more were wanted." if report.balance["shortfall"] > 0 else "")
    )


def short_words(report: WaterReport, system: System) -> str:
    """Whether and when the demand is not met; empty without a demand."""
    if report.short_days is None:
        return ""
    months = [MONTHS[n] for n, days in enumerate(report.short_days) if days]
    if not months:
        return "The demand is met on every day."
    told = (
        f"The demand is not met on {counted(int(report.short_days.sum()), 'day')} ({_listed(months)}); the longest "
        f"spell is {counted(report.dry_spell_days or 0, 'day')}."
    )
    missing_m3 = 0.0 if report.backup is None else float(report.backup.missing_m3.sum())
    if missing_m3 > _NOTHING_M3:
        missing = show(missing_m3, "volume", system)
        told += f" {missing} of what is missing no backup can lift: no source has it."
    if report.days_below_reserve and report.result.job.store.reserve_m3 > 0:
        told += f" On {counted(report.days_below_reserve, 'day')} the store falls below its reserve."
    return told


def _listed(months: list[str]) -> str:
    if len(months) == len(MONTHS):
        return "in every month"
    return ", ".join(months)


def short_tables(report: WaterReport, system: System) -> tuple[Table, ...]:
    """Months with the hours that this pump must run on grid or generator to meet the demand; no table without one."""
    if report.short_days is None:
        return ()
    means = report.result.monthly_means["water_m3"]
    wanted = report.result.job.store.demands_m3_per_day
    rows: list[tuple[str, ...]] = []
    for month, pumped in means.items():
        place = int(str(month)) - 1
        hours, energy = ("–", "–")
        if report.backup is not None:
            hours, energy = f"{report.backup.hours[place]:.0f}", f"{report.backup.energy_kwh[place]:.0f}"
        rows.append(
            (
                MONTHS[place],
                shown_number(wanted[place], "volume_per_day", system),
                shown_number(float(pumped), "volume_per_day", system),
                str(int(report.short_days[place])),
                hours,
                energy,
            )
        )
    unit = unit_label("volume_per_day", system)
    header = ("month", f"wanted {unit}", f"pumped {unit}", "short days", "backup h", "backup kWh")
    return (Table(header=header, rows=tuple(rows)),)
