"""Sixty mistakes as people make them on the field commands: each is one clear sentence, at once, and nothing is run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trackersim.analysis import day_ahead, flip_check, flow_instants
from trackersim.cli import app
from trackersim.simulation import runner

SPRINGS = str(Path(__file__).parent / "sites" / "two_springs.toml")
AT = ["--at", "2025-06-21 13:00"]
FLIP, BUCKET = ["flip", "demo"], ["bucket", "demo", *AT]
FLOW = ["--flow", "9 gpm"]
FILLS = ["--volume", "5 gal"]
CARD = ["tomorrow", "demo"]

# The mistake, the option or field that the sentence must name, and a word of what to do about it.
MISTAKES: tuple[tuple[list[str], str, str], ...] = (
    # The time.
    ([*FLIP, "--at", "9:15"], "--at", "2025"),
    ([*FLIP, "--at", "2025-03-21"], "--at", "2025"),
    ([*FLIP, "--at", "2025-3-32 09:15"], "--at", "2025"),
    ([*FLIP, "--at", "21.03.2025 09:15"], "--at", "2025"),
    ([*FLIP, "--at", "2025-03-21 25:15"], "--at", "2025"),
    ([*FLIP, "--at", "2025-03-21 9h15"], "--at", "2025"),
    ([*FLIP, "--at", "2025-02-29 09:15"], "--at", "2025"),
    ([*FLIP, "--at", "tomorrow 9:15"], "--at", "2025"),
    ([*FLIP, "--at", ""], "--at", "2025"),
    ([*FLIP, "--at", "20250-03-21 09:15"], "--at", "2025"),
    ([*FLIP, "--at", "0025-03-21 09:15"], "--at", "1950"),
    ([*FLIP, "--at", "2025-03-09 02:30"], "--at", "hour"),
    ([*FLIP], "--at", "--at"),
    ([*CARD, "--date", "soon"], "--date", "2025-03-21"),
    ([*CARD, "--date", "2025-13-01"], "--date", "2025-03-21"),
    ([*CARD, "--date", "3/32/2025"], "--date", "2025-03-21"),
    ([*CARD, "--date", "2205-03-21"], "--date", "2100"),
    # The sky, the wind, the air, the rack.
    ([*FLIP, *AT, "--sky", "sunny"], "--sky", "clear"),
    ([*FLIP, *AT, "--sky", "clera"], "--sky", "clear"),
    ([*FLIP, *AT, "--wind", "5 mph"], "--wind", "breeze"),
    ([*FLIP, *AT, "--air", "41"], "--air", '"41F" or "5C"'),
    ([*BUCKET, *FLOW, "--air", "34"], "--air", '"41F" or "5C"'),
    ([*FLIP, *AT, "--air", "cold"], "--air", "41F"),
    ([*FLIP, *AT, "--air", "410F"], "--air", "at most"),
    ([*FLIP, *AT, "--air", "41 psi"], "--air", "41F"),
    ([*FLIP, *AT, "--stands", "south"], "--stands", "west"),
    ([*FLIP, *AT, "--at-unit", "2"], "--at-unit", "Leave"),
    (["flip", SPRINGS, *AT, "--at-unit", "west spring"], "--at-unit", "north spring"),
    (["flip", SPRINGS, *AT, "--at-unit", "0"], "--at-unit", "north spring"),
    # The bucket.
    ([*BUCKET, *FILLS], "--seconds", "9.8"),
    ([*BUCKET, "--seconds", "9.8"], "--volume", "5 gal"),
    ([*BUCKET, "--volume", "5", "--seconds", "9.8"], "--volume", "5 gal"),
    ([*BUCKET, "--volume", "5 gla", "--seconds", "9.8"], "--volume", "5 gal"),
    ([*BUCKET, "--volume", "5 ft", "--seconds", "9.8"], "--volume", "5 gal"),
    ([*BUCKET, "--volume", "-5 gal", "--seconds", "9.8"], "--volume", "above"),
    ([*BUCKET, "--volume", "5000000 gal", "--seconds", "9.8"], "--volume", "at most"),
    ([*BUCKET, *FILLS, "--seconds", "0"], "--seconds", "at least"),
    ([*BUCKET, *FILLS, "--seconds", "9.8 9..9"], "--seconds", "9.8"),
    ([*BUCKET, *FILLS, "--seconds", "0:09"], "--seconds", "9.8"),
    ([*BUCKET, *FILLS, "--seconds", "nine"], "--seconds", "9.8"),
    ([*BUCKET, *FILLS, "--seconds", "9.8.1"], "--seconds", "decimal point"),
    ([*BUCKET, *FILLS, "--seconds", ""], "--seconds", "9.8"),
    ([*BUCKET, *FILLS, "--seconds", "9.8 gal"], "--seconds", "9.8"),
    ([*BUCKET, "--flow", "28"], "--flow", "28 gpm"),
    ([*BUCKET, "--flow", "28 gph m"], "--flow", "28 gpm"),
    ([*BUCKET, "--flow", "-28 gpm"], "--flow", "at least"),
    ([*BUCKET, "--flow", "28 gal"], "--flow", "28 gpm"),
    ([*BUCKET, *FLOW, *FILLS], "--flow", "fills or the flow"),
    ([*BUCKET, *FLOW, "--flow-error", "500 %"], "--flow-error", "90 %"),
    # Other meters.
    ([*BUCKET, *FLOW, "--light", "760"], "--light", "760 W/m2"),
    ([*BUCKET, *FLOW, "--light", "7600 W/m2"], "--light", "at most"),
    ([*BUCKET, *FLOW, "--pressure", "35"], "--pressure", "35 psi"),
    ([*BUCKET, *FLOW, "--pressure", "35 pis"], "--pressure", "35 psi"),
    ([*BUCKET, *FLOW, "--gauge-above", "10 ft"], "--gauge-above", "pressure"),
    ([*BUCKET, *FLOW, "--voltage", "68 A"], "--voltage", "68 V"),
    ([*BUCKET, *FLOW, "--voltage", "6800 V"], "--voltage", "at most"),
    ([*BUCKET, *FLOW, "--current", "8.2 V"], "--current", "8.2 A"),
    ([*BUCKET, *FLOW, "--current", "-8 A"], "--current", "at least"),
    ([*BUCKET, *FLOW, "--rotation", "120"], "--rotation", "at most"),
    ([*BUCKET, *FLOW, "--rotation", "20 up"], "--rotation", "20 west"),
    ([*BUCKET, *FLOW, "--stands", "west", "--rotation", "20"], "--rotation", "one of the two"),
    # The job and its fields.
    (["wiring", "demoo"], "demoo", "path"),
    (["wiring", "demo", "--set", "wire.0.guage=8 AWG"], "wire.0.guage", "gauge"),
    (["wiring", "demo", "--set", "wire.0.gauge=7 AWG"], "wire.0.gauge", "AWG"),
    (["wiring", "demo", "--set", "wire.0.length=160 AWG"], "wire.0.length", "ft"),
    (["wiring", "demo", "--set", "wire.4.length=160 ft"], "wire.4", "wire"),
    (["wiring", "demo", "--set", "controller.max_input"], "--set", "="),
    (["water", "demo", "--from", "2025-06-31"], "--from", "2025-03-21"),
    (["water", "demo", "--from", "2025-06-21", "--to", "2025-06-20"], "day", "2025-06"),
    (["wiring", "demo", "--units", "usa"], "--units", "us"),
    (["bukcet", "demo"], "bukcet", "command"),
    ([*BUCKET, "--preasure", "35 psi"], "--preasure", "--pressure"),
)


@pytest.fixture(autouse=True)
def nothing_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """No scene, rack or pump is worked out for input that is wrong."""

    def ran(*_: object, **__: object) -> None:
        raise AssertionError("simulated before the mistake was told")

    monkeypatch.setattr(runner.Runner, "run", ran)
    for question in (flip_check, flow_instants, day_ahead):
        monkeypatch.setattr(question, "runs_of", ran)


def told(words: list[str]) -> str:
    """What is printed on the error side, boxes and line ends taken out."""
    outcome = CliRunner().invoke(app, words, env={"COLUMNS": "300", "NO_COLOR": "1", "TERM": "dumb"})
    if outcome.exception and not isinstance(outcome.exception, SystemExit):
        raise outcome.exception
    assert outcome.exit_code == 2
    assert not outcome.stdout
    return " ".join(re.sub(r"[│╭╮╰╯─]", " ", outcome.stderr).split())


@pytest.mark.parametrize(("words", "field", "remedy"), MISTAKES)
def test_a_mistake_is_one_clear_sentence(words: list[str], field: str, remedy: str) -> None:
    text = told(words)
    assert field in text
    assert remedy in text
    assert "Traceback" not in text
    sentence = text.split("•", 1)[-1].split("Error", 1)[-1]
    assert text.count("•") <= 1
    assert len(sentence) < 320, sentence
    assert text.rstrip().endswith((".", "?", "'", ")")), text


def test_there_are_sixty_of_them_and_none_twice() -> None:
    assert len(MISTAKES) >= 60
    assert len({tuple(words) for words, _, _ in MISTAKES}) == len(MISTAKES)
