"""250 modules of a public library: does the curve from the label do what the library's own curve does?

The library is that of the California Energy Commission (2019), as shipped with pvlib: labels, measured coefficients of
power (gamma_r), and the Commission's six parameters for pvlib's `calcparams_cec`.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest
from pvlib import pvsystem

from trackersim.job.array import Array
from trackersim.power.label_fit import fit_label

SILICON = ["Mono-c-Si", "Multi-c-Si"]


def library() -> pd.DataFrame:
    """Labels of crystalline modules that a job may have."""
    table = pvsystem.retrieve_sam("CECMod").T
    table = table[table["Technology"].isin(SILICON)]
    table = table.drop(columns=["Technology", "Version", "Date", "BIPV"], errors="ignore").astype(float)
    per_cell = table["V_oc_ref"] / table["N_s"]
    return table[per_cell.between(0.4, 0.85) & (table["beta_oc"] / table["V_oc_ref"]).between(-0.008, -0.0005)]


def label_of(row: pd.Series, **changed: float | None) -> Array:
    given = {
        "vmp_v": row.V_mp_ref,
        "imp_a": row.I_mp_ref,
        "voc_v": row.V_oc_ref,
        "isc_a": row.I_sc_ref,
        "isc_per_k": row.alpha_sc / row.I_sc_ref,
        "voc_per_k": row.beta_oc / row.V_oc_ref,
        "power_per_k": row.gamma_r / 100,
        "cells": int(row.N_s),
    }
    return Array(**{**given, **changed})


def best(*curve: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    point = pvsystem.max_power_point(*curve, method="newton")
    return np.asarray(point["p_mp"]), np.asarray(point["v_mp"])


@cache
def held_together(*, coefficient_given: bool = True) -> pd.DataFrame:
    """Power and voltage over those of the library's curve, at four conditions, one row a module."""
    light, cell = np.array([1000.0, 1000.0, 1000.0, 200.0]), np.array([25.0, 60.0, -10.0, 25.0])
    rows = []
    for _, row in library().sample(250, random_state=20260101).iterrows():
        label = label_of(row) if coefficient_given else label_of(row, power_per_k=None)
        diode = fit_label(label)
        theirs = pvsystem.calcparams_cec(
            light, cell, row.alpha_sc, row.a_ref, row.I_L_ref, row.I_o_ref, row.R_sh_ref, row.R_s, row.Adjust
        )
        (our_w, our_v), (their_w, their_v) = best(*diode.at(light, cell)), best(*theirs)
        watts, volts = 100 * (our_w / their_w - 1), 100 * (our_v / their_v - 1)
        rows.append(
            {"label": watts[0], "hot": watts[1], "cold": watts[2], "low light": watts[3], "volts hot": volts[1],
             "volts": volts[0], "relaxed": diode.relaxed, "power": 100 * (our_w[0] / label.rated_w - 1)}
        )  # fmt: skip
    return pd.DataFrame(rows)


def test_label_and_coefficient_both_hold() -> None:
    """Power at 1000 W/m², 25, 60 and −10 °C. Measured: at 60 °C median −0.03 %, p95 0.17 %, most 1.1 %.

    Until the coefficient was an input it was +2.2 %, p95 6.2 %.
    """
    found = held_together()
    assert found["power"].abs().max() < 1e-4
    assert abs(found["hot"].median()) < 0.1
    assert found["hot"].abs().quantile(0.95) < 0.5
    assert found["cold"].abs().quantile(0.95) < 0.5


def test_a_missing_coefficient_costs_little() -> None:
    """With the typical one, 0.12 %/K beside Voc's. Measured at 60 °C: median −0.25 %, p95 3.5 %."""
    found = held_together(coefficient_given=False)
    assert abs(found["hot"].median()) < 0.5
    assert found["hot"].abs().quantile(0.95) < 4.0


def test_low_light() -> None:
    """Power at 200 W/m², 25 °C. Measured: median −0.12 %, p5 −1.3 %, p95 0."""
    found = held_together()
    assert abs(found["low light"].median()) < 0.3
    assert found["low light"].abs().quantile(0.95) < 2.0


def test_sound_labels_are_seldom_called_doubtful() -> None:
    """Until now 24 % were. What gives way is Vmp: by more than 1 % in one label of ten, the power never."""
    found = held_together()
    assert 0 < found["relaxed"].mean() < 0.02
    assert found["volts"].abs().quantile(0.95) < 1.5


def test_the_typical_coefficient_is_the_library_s_median() -> None:
    """Of 20,941 crystalline modules; half of them lie within ±0.016 %/K of it."""
    table = library()
    beside_voc = table["gamma_r"] / 100 - table["beta_oc"] / table["V_oc_ref"]
    typical = label_of(table.iloc[0], power_per_k=None)
    used = typical.power_change_per_k - typical.voc_per_k
    assert used == pytest.approx(beside_voc.median(), abs=5e-5)
    assert (beside_voc - used).abs().median() < 0.0002


def test_a_wrong_figure_is_still_noticed() -> None:
    """Volts of another module's row at the same power must not pass for rounding."""
    row = library().iloc[100]
    assert not fit_label(label_of(row)).relaxed
    assert fit_label(label_of(row, vmp_v=row.V_mp_ref * 1.08, imp_a=row.I_mp_ref / 1.08)).relaxed


@pytest.mark.parametrize("per_k", [-0.002, -0.003, -0.0045, -0.006])
def test_any_coefficient_a_label_may_have_is_held(per_k: float) -> None:
    diode = fit_label(label_of(library().iloc[100], power_per_k=per_k))
    cold_w, label_w, warm_w = best(*diode.at(np.full(3, 1000.0), np.array([-10.0, 25.0, 50.0])))[0]
    assert (warm_w - cold_w) / 60 / label_w == pytest.approx(per_k, rel=1e-3)
