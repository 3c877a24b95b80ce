"""[[option]] and [money] in a job file, and the commands `losses` and `options`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trackersim import InputError, load_job, simulate
from trackersim.cli import app
from trackersim.job.files import demo_text, option_job, parse_job, with_overrides
from trackersim.page.state import saved_text

DAYS = ["--from", "2025-03-20", "--to", "2025-03-21"]
OPTION = '\n[[option]]\nname = "cut"\ncost = 500\n[option.set]\ntrees = []\nrack.kind = "ideal"\n'


def call(*words: str) -> tuple[int, str, str]:
    outcome = CliRunner().invoke(app, list(words), env={"COLUMNS": "80"})
    if outcome.exception and not isinstance(outcome.exception, SystemExit):
        raise outcome.exception
    return outcome.exit_code, outcome.stdout, outcome.stderr


def faults(text: str) -> dict[str, str]:
    with pytest.raises(InputError) as refused:
        parse_job(demo_text() + text)
    return {fault.field: fault.reason for fault in refused.value.faults}


def test_every_fault_of_every_option_is_told_at_its_key() -> None:
    told = faults(
        '\n[[option]]\nname = "a"\nset = {"rack.knd" = "ideal", "trees.9.height" = "20 ft"}\n'
        '[[option]]\nname = "b"\nset = {site.latitude = 999, "array.in_series" = 20}\n'
    )
    assert set(told) == {
        "option.0.set.rack.knd", "option.0.set.trees.9.height", "option.1.set.site.latitude",
        "option.1.set.array.layout",
    }  # fmt: skip


def test_contradictions_between_sections_are_found_in_options_too() -> None:
    text = '\n[[option]]\nname = "b"\nset = {"array.in_series" = 8, "array.layout.columns" = 8}\n'
    assert "174 V" in faults(text)["option.0.set.array.in_series"]


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("[[option]]\ncost = 4\n", "option.0.name"),
        ('[[option]]\nname = "a"\ncost = -3\n', "option.0.cost"),
        ('[[option]]\nready = "fell-bst"\n', "option.0.ready"),
        ('[[option]]\nready = "new-pipe"\nset = {trees = []}\n', "option.0.set"),
        ('[[option]]\nname = "a"\nset = {"option.0.cost" = 3}\n', "option.0.set"),
        ("[money]\nrate = 2\n", "money.rate"),
        ('[money]\nprice_of_water = "6 per 0 gal"\n', "money.price_of_water"),
        ('[money]\nprice_of_water = "6 per 3 ft"\n', "money.price_of_water"),
        ("[money]\nhorizon = 20\n", "money.horizon"),
    ],
)
def test_faults_of_money_and_options_name_the_field(text: str, field: str) -> None:
    assert field in faults(f"\n{text}")


def test_a_price_of_water_is_read_in_any_volume() -> None:
    def price(value: str) -> float | None:
        return parse_job(f"{demo_text()}\n[money]\nprice_of_water = {value}\n").money.price_of_water

    assert price("1.5") == 1.5
    assert price('"6 per 1000 gal"') == pytest.approx(6 / 3.785411784)
    assert price('"2 per m**3"') == 2.0


def test_options_change_neither_the_water_nor_a_job_without_them() -> None:
    plain, with_option = load_job("demo"), parse_job(demo_text() + OPTION)
    assert "option" not in json.loads(plain.canonical_text())
    assert plain.sha256() != with_option.sha256()
    day = {"first_day": None, "last_day": None}
    clear = {"weather.file": "", "weather.clear_sky": True, "trees": []}
    one, other = (simulate(with_overrides(job, clear), **day) for job in (plain, with_option))
    assert one.water_m3 == other.water_m3
    assert option_job(with_option, 0).rack.kind == "ideal"
    assert option_job(with_option, 0).trees == ()


def test_a_job_with_options_is_the_same_when_saved_and_opened_again() -> None:
    job = parse_job(demo_text() + OPTION + '[money]\nprice_of_water = "6 per 1000 gal"\n')
    assert parse_job(saved_text(job.plain())) == job


def test_a_change_of_the_job_is_not_held_against_its_options() -> None:
    job = parse_job(demo_text() + '\n[[option]]\nname = "a"\nset = {"trees.1.height" = "20 ft"}\n')
    assert with_overrides(job, {"trees": []}).trees == ()


def test_losses_in_words_and_numbers(tmp_path: Path) -> None:
    code, printed, _ = call("losses", "demo", *DAYS, "--out", str(tmp_path / "out"))
    assert code == 0
    sentence, table, order = (printed.index(words) for words in ("this pump would", "ideal in every way", "add up"))
    assert sentence < table < order
    assert "m³" not in printed
    assert max(len(line.rstrip()) for line in printed.splitlines()) <= 80
    assert {"losses.json", "losses.png"} <= {path.name for path in (tmp_path / "out").iterdir()}
    answer = json.loads((tmp_path / "out" / "losses.json").read_text())
    lost = sum(step["lost"]["water_m3"] for step in answer["steps"])
    assert answer["ideal"]["water_m3"] - lost == pytest.approx(answer["own"]["water_m3"], abs=1e-9)
    code, printed, _ = call("losses", "demo", *DAYS, "--json")
    assert (code, json.loads(printed)) == (0, answer)


def test_options_in_words_and_numbers(tmp_path: Path) -> None:
    job = tmp_path / "site.toml"
    job.write_text(demo_text() + OPTION + '[money]\nprice_of_water = "6 per 1000 gal"\n')
    wanted = ("--set", "store.demand=20000 gal/day")
    code, printed, _ = call("options", str(job), *DAYS, *wanted)
    assert code == 0
    text = " ".join(printed.split())
    for words in ("leave it as it is", "licensed practice", "The numbers favour", "It would turn"):
        assert words in text
    assert max(len(line.rstrip()) for line in printed.splitlines()) <= 80
    assert "…" not in printed
    code, printed, _ = call("options", str(job), *DAYS, *wanted, "--json")
    answer = json.loads(printed)
    assert code == 0
    told = {option["name"]: option for option in answer["options"]}
    assert list(told)[:3] == ["leave it as it is", "rack repaired, as new", "cut"]
    assert told["cut"]["price"]["cost"] == 500


def test_faults_are_told_with_exit_code_2() -> None:
    for command in ("losses", "options"):
        code, printed, told = call(command, "demo", "--set", "site.latitude=999")
        assert (code, printed) == (2, "")
        assert "site.latitude" in told


def test_what_matters_of_a_rack_is_plain_json() -> None:
    code, printed, _ = call("rack", "demo", "--set", "trees=[]", "--json")
    told = json.loads(printed)
    assert (code, len(told["dates"])) == (0, 4)
    assert told["moved"]["shade_plates"]["higher"] is None
    later = told["moved"]["dew"]["higher"]["flip_min"][0] - told["usual"]["flip_min"][0]
    assert 5 < later < 20
