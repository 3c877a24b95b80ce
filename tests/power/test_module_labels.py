"""Every plausible label must fit, and a fitted module must give back its label: old and new, thin and large."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from pvlib import pvsystem

from trackersim.errors import InputError
from trackersim.job.array import Array
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import best_point, module_table

DEMO = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5, isc_per_k=0.0005, voc_per_k=-0.0034, cells=36)

# Round-figure labels of crystalline-silicon modules, nobody's: what a technician reads on the back of a rack.
PLAUSIBLE = [
    pytest.param(DEMO, id="120-W-36-cells-of-the-demo-job"),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=17.6, imp_a=6.8, voc_v=22.0, isc_a=7.4, voc_per_k=-0.0033)),
        id="defaults-of-the-job",
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=18.0, imp_a=5.56, voc_v=22.3, isc_a=6.0, voc_per_k=-0.0033)),
        id="100-W-36-cells",
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=17.0, imp_a=2.94, voc_v=21.6, isc_a=3.2, voc_per_k=-0.0035)),
        id="old-50-W-36-cells",
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=16.5, imp_a=3.0, voc_v=19.8, isc_a=3.4, cells=33)), id="old-50-W-33-cells"
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=5.5, imp_a=1.0, voc_v=6.8, isc_a=1.1, cells=12)), id="thin-12-cells"
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=31.0, imp_a=8.1, voc_v=38.0, isc_a=8.7, cells=60, voc_per_k=-0.0032)),
        id="250-W-60",
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=37.5, imp_a=8.9, voc_v=46.0, isc_a=9.4, cells=72, voc_per_k=-0.0031)),
        id="330-W-72",
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=34.0, imp_a=13.1, voc_v=41.0, isc_a=13.9, cells=54, voc_per_k=-0.0026)),
        id="445-W-54",
    ),
    pytest.param(
        DEMO.model_copy(update=dict(vmp_v=41.5, imp_a=13.0, voc_v=49.5, isc_a=13.9, cells=72, voc_per_k=-0.0027)),
        id="540-W-72",
    ),
]


def standard_power(label: Array) -> tuple[float, float]:
    table = module_table(fit_label(label))
    power, voltage = best_point(table, absorbed_w_m2=np.array([1000.0]), cell_c=np.array([25.0]))
    return float(power[0]), float(voltage[0])


@pytest.mark.parametrize("label", PLAUSIBLE)
def test_a_plausible_label_gives_its_own_power(label: Array) -> None:
    power, voltage = standard_power(label)
    assert power == pytest.approx(label.vmp_v * label.imp_a, rel=1e-4)  # identity: the label is at these conditions
    assert voltage == pytest.approx(label.vmp_v, rel=3e-3)


def test_measured_labels_of_real_modules_fit() -> None:
    # CEC module table as shipped with pvlib: 60 crystalline-silicon rows evenly through the table.
    table = pvsystem.retrieve_sam("CECMod").T
    table = table[table["Technology"].isin(["Mono-c-Si", "Multi-c-Si"])]
    refused = 0
    for row in table.iloc[:: len(table) // 59].itertuples():
        label = Array(
            vmp_v=float(row.V_mp_ref),
            imp_a=float(row.I_mp_ref),
            voc_v=float(row.V_oc_ref),
            isc_a=float(row.I_sc_ref),
            isc_per_k=float(row.alpha_sc / row.I_sc_ref),
            voc_per_k=float(row.beta_oc / row.V_oc_ref),
            cells=int(row.N_s),
        )
        try:
            fit_label(label)
        except InputError:
            refused += 1
    assert refused == 0


def grid() -> list[Array]:
    labels = []
    for cells, voc, fill, isc, per_k in product(
        (12, 60, 144),
        (0.52, 0.60, 0.68),
        (0.55, 0.62, 0.70, 0.76, 0.82),
        (9.0,),
        (-0.0040, -0.0033, -0.0026),
    ):
        voltage_part = fill**0.6  # the current keeps the larger part of a good fill factor's square
        labels.append(
            Array(
                vmp_v=voc * cells * voltage_part,
                imp_a=isc * fill / voltage_part,
                voc_v=voc * cells,
                isc_a=isc,
                isc_per_k=0.0005,
                voc_per_k=per_k,
                cells=cells,
            )
        )
    return labels


def test_unusual_labels_fit_rightly_or_are_refused_in_words() -> None:
    # A fit that converges must also pass the label's best point: pvlib's solver may stop at another one.
    wrong, refusals, fitted = [], [], 0
    for label in grid():
        try:
            found = fit_label(label)
        except InputError as error:
            refusals.append(error.faults[0])
            continue
        fitted += 1
        assert min(found.light_a, found.dark_a, found.shunt_ohm, found.slope_v) > 0
        assert found.series_ohm >= 0
        point = pvsystem.singlediode(found.light_a, found.dark_a, found.series_ohm, found.shunt_ohm, found.slope_v)
        if abs(point["p_mp"] / (label.vmp_v * label.imp_a) - 1) > 1e-4:
            wrong.append((label, point["p_mp"]))
    assert fitted + len(refusals) == 135
    assert fitted == 135  # the halving finds every one, none by a lucky guess
    assert all(fault.field == "array.vmp" and fault.remedy for fault in refusals)
    assert wrong == []


def test_a_fit_that_misses_the_label_is_not_accepted() -> None:
    label = Array(
        vmp_v=6 * 0.55**0.55,
        imp_a=9 * 0.55**0.45,
        voc_v=6.0,
        isc_a=9.0,
        isc_per_k=0.0002,
        voc_per_k=-0.0025,
        cells=12,
    )
    try:
        power, _ = standard_power(label)
    except InputError:
        return  # refusing in words is the other right answer
    assert power == pytest.approx(label.vmp_v * label.imp_a, rel=1e-4)


def test_an_impossible_label_is_refused_in_words() -> None:
    with pytest.raises(InputError, match=r"array\.vmp"):
        fit_label(DEMO.model_copy(update=dict(vmp_v=21.0, imp_a=7.45, voc_per_k=-0.0005)))
