"""The rack diagnosed on site: rows as people fill them in, faults by row and field, the command line's answer."""

from __future__ import annotations

import datetime as dt
import io
import json
from collections.abc import Callable
from contextlib import redirect_stdout
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from trackersim.analysis import diagnosis
from trackersim.analysis.watched_mornings import read_mornings
from trackersim.cli.main import run
from trackersim.clock import today_at
from trackersim.job.files import demo_text, parse_job
from trackersim.page import mornings_watched
from trackersim.page.places import on_site

Shown = Callable[[AppTest], str]
Told = Callable[[AppTest], list[str]]
DAY = demo_text().replace("sample:typical-year", "sample:clear-spring-day")
