"""A species fills in what a tree passes, and only where the job leaves it out."""

from __future__ import annotations

import pytest

from trackersim.analysis.uncertain_inputs import range_of_input
from trackersim.errors import InputError
from trackersim.job.files import demo_text, parse_job, with_overrides
from trackersim.job.species import LEAFY, TYPICAL

TREE = '\n[[trees]]\nbearing = 100\ndistance = "60 ft"\nheight = "30 ft"\nwidth = "20 ft"\n'


def shares(*lines: str) -> tuple[float, float]:
    tree = parse_job(demo_text() + TREE + "\n".join(lines)).trees[-1]
    return tree.transmittance_leaf_on, tree.transmittance_leaf_off


def test_what_is_given_wins_over_the_species() -> None:
    assert shares('species = "Oak"') == (0.17, 0.50)
    assert shares('species = "oak"', 'transmittance_leaf_on = "9 %"') == (0.09, 0.50)
    assert shares('species = "oak"', 'beam_bare = "60 %"') == (0.17, 0.60)  # a former name is given too
    assert shares() == (TYPICAL.leaf_on, TYPICAL.leaf_off)


def test_an_unknown_species_is_refused_with_the_names_that_are_known() -> None:
    with pytest.raises(InputError, match=r"trees\.2\.species.*oak") as refused:
        shares('species = "triffid"')
    assert refused.value.faults[0].value == "triffid"


def test_a_species_as_an_override_takes_the_place_of_the_last_one() -> None:
    job = parse_job(demo_text() + TREE + 'species = "scots pine"')
    assert job.trees[-1].leaf == "evergreen"
    other = with_overrides(job, {"trees.2.species": "birch"}).trees[-1]
    assert (other.leaf, other.transmittance_leaf_on, other.transmittance_leaf_off) == ("leafy", 0.24, 0.54)
    assert with_overrides(job, {"trees.2.species": ""}).trees[-1].transmittance_leaf_on == 0.27


def test_draws_go_from_the_densest_species_to_the_lightest() -> None:
    for name, season in (("transmittance_leaf_on", "leaf_on"), ("transmittance_leaf_off", "leaf_off")):
        least, likely, most = range_of_input(name)
        published = [getattr(crown, season) for crown in LEAFY]
        typical = getattr(TYPICAL, season)
        assert (least * typical, likely, most * typical) == pytest.approx((min(published), 1.0, max(published)))
