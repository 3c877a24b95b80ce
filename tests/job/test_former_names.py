"""Keys that were renamed: older files, overrides, options and learned fields go on with the former names."""

from __future__ import annotations

import tomllib

import pytest

from trackersim.errors import InputError
from trackersim.job.files import demo_text, job_from_data, load_job, option_job, parse_job, with_overrides
from trackersim.job.former_names import TREE_KEYS
from trackersim.job.ranges import range_of

TREE = 'kind = "tree"\nbearing = 90\ndistance = "60 ft"\nheight = "35 ft"\nwidth = "20 ft"\n'


def with_tree(keys: str, more: str = "") -> str:
    return tomllib_without_trees() + f"\n[[trees]]\n{TREE}{keys}\n{more}"


def tomllib_without_trees() -> str:
    text = demo_text()
    start = text.index("[[trees]]")
    rest = text[start:]
    sections = [place for place in (rest.find(f"\n[{name}]") for name in tomllib.loads(text)) if place >= 0]
    return text[:start] + rest[min(sections) :]


@pytest.mark.parametrize(("former", "key"), TREE_KEYS.items())
def test_a_file_with_the_former_key_is_the_same_job(former: str, key: str) -> None:
    old, new = (parse_job(with_tree(f'{name} = "17 %"')) for name in (former, key))
    assert getattr(old.trees[0], key) == pytest.approx(0.17)
    assert old == new
    assert old.sha256() == new.sha256()
    assert former not in old.model_dump_json(by_alias=True)


def test_the_hash_of_a_job_outlasts_the_renaming() -> None:
    """As it was printed with the demo's answer before the keys were renamed, with what were then its defaults given."""
    then = [f"trees.{tree}.{key}" for tree in (0, 1) for key in ("beam_in_leaf=0.05", "beam_bare=0.45")]
    then += ["rack.thermal.flow_resistance_pa_s_kg=8e6", "rack.thermal.wind_coefficient=0.05"]
    assert load_job("demo", then).sha256().startswith("bd9b9ce9c0f5")


@pytest.mark.parametrize(("former", "key"), TREE_KEYS.items())
@pytest.mark.parametrize("in_file", [0, 1])
@pytest.mark.parametrize("in_override", [0, 1])
def test_an_override_reaches_the_field_by_either_name(former: str, key: str, in_file: int, in_override: int) -> None:
    names = (former, key)
    text, override = with_tree(f"{names[in_file]} = 0.2"), f"trees.0.{names[in_override]}"
    for job in (
        parse_job(text, overrides=[f"{override}=0.3"]),
        with_overrides(parse_job(text), {override: 0.3}),
        option_job(
            parse_job(
                with_tree(f"{names[in_file]} = 0.2", f'[[option]]\nname = "thinner"\nset = {{ "{override}" = 0.3 }}')
            ),
            0,
        ),
    ):
        assert getattr(job.trees[0], key) == pytest.approx(0.3)
    assert range_of(override) == (0.0, 1.0)


@pytest.mark.parametrize(("former", "key"), TREE_KEYS.items())
def test_both_names_at_once_are_a_fault(former: str, key: str) -> None:
    with pytest.raises(InputError) as caught:
        job_from_data(tomllib.loads(with_tree(f"{former} = 0.2\n{key} = 0.2")))
    (fault,) = caught.value.faults
    assert fault.field == f"trees.0.{former}"
    assert key in fault.reason


def test_a_fault_of_an_option_is_told_at_the_change_as_it_is_written() -> None:
    with pytest.raises(InputError) as caught:
        parse_job(with_tree("beam_bare = 0.2", '[[option]]\nname = "thinner"\nset = { "trees.0.beam_bare" = 3 }'))
    assert [fault.field for fault in caught.value.faults] == ["option.0.set.trees.0.beam_bare"]
