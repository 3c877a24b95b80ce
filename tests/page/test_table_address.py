"""What is worked out ahead, told by an address of its own and not by a run of the page."""

from __future__ import annotations

import json
import time
from typing import Any

import pytest
from starlette.requests import Request

from trackersim.job.files import load_job
from trackersim.page import work
from trackersim.page.ahead import Ahead
from trackersim.page.figures_shown import ahead_shown
from trackersim.page.table_address import told
from trackersim.simulation.reuse import StageCache

DAY = load_job("demo", ["weather.file=sample:clear-spring-day"])


def asked(key: str, query: str = "") -> Any:
    return told(Request({"type": "http", "path_params": {"key": key}, "query_string": query.encode(), "headers": []}))


def test_a_table_is_told_in_both_units_and_goes_on_to_be_filled(monkeypatch: pytest.MonkeyPatch) -> None:
    ahead = Ahead(StageCache(), busy=lambda: False)
    monkeypatch.setattr(work, "ahead", lambda: ahead)
    key = work.key_of(DAY)
    assert asked(key).status_code == 404
    table = ahead.table(key, DAY)
    asked_s, ends = table.asked_s, time.monotonic() + 120
    while len(table.cells) < 3 and time.monotonic() < ends:
        time.sleep(0.05)
        assert asked(key).status_code == 200
    assert table.asked_s > asked_s
    while not table.whole and time.monotonic() < ends:
        time.sleep(0.05)
        assert asked(key).status_code == 200
    for system in ("us", "si"):
        answer = asked(key, f"units={system}")
        assert answer.headers["cache-control"] == "no-store"
        found = json.loads(answer.body)
        assert found == ahead_shown(key, table, system)  # type: ignore[arg-type]
        assert found["whole"]
        assert len(found["table"]["rows"]) == 3
    assert asked("no such key").status_code == 404
