"""Cold-morning open-circuit voltage."""

from __future__ import annotations

import pytest

from trackersim import load_job
from trackersim.power.voltage import air_at_voltage_c, cold_open_circuit_v, voltage_verdict


def cold_v(voc_v: float, voc_per_k: float, coldest_c: float, *, in_series: int = 1) -> float:
    label = {"voc_v": voc_v, "voc_per_k": voc_per_k, "in_series": in_series}
    array = load_job("demo").array.model_copy(update=label)
    found = cold_open_circuit_v(array, coldest_c)
    assert air_at_voltage_c(array, found) == pytest.approx(coldest_c)
    return found


def test_own_coefficient() -> None:
    # Identity: 40 V, −0.30 %/K, −20 °C → 45.4 V.
    assert cold_v(40, -0.0030, -20) == pytest.approx(45.4, abs=0.05)


@pytest.mark.parametrize(("warm_end_c", "factor"), [(24, 1.02), (4, 1.10), (-6, 1.14), (-16, 1.18), (-36, 1.25)])
def test_a_usual_coefficient_stays_within_the_code_s_table(warm_end_c: float, factor: float) -> None:
    """NEC 690.7(A), crystalline silicon, bands of 5 K; values recalled from memory except two rows.

    The table is for modules whose coefficient is not known and must cover them; a usual −0.33 %/K at the band's warm
    end must not exceed it, and lies within 4 % below it.
    """
    own = cold_v(1, -0.0033, warm_end_c)
    assert factor - 0.05 <= own <= factor


def test_strings_add_up() -> None:
    one, four = (cold_v(21.8, -0.0034, -10, in_series=n) for n in (1, 4))
    assert four == pytest.approx(4 * one)


@pytest.mark.parametrize(("voltage", "verdict"), [(94.9, "within"), (95.1, "close"), (100.0, "close"), (100.1, "over")])
def test_verdict(voltage: float, verdict: str) -> None:
    assert voltage_verdict(voltage, max_v=100.0) == verdict
