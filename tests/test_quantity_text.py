"""Text is split before it is matched: whatever is typed, the answer comes at once."""

from __future__ import annotations

import random
import time
import tomllib
from collections.abc import Callable, Iterator
from copy import deepcopy
from typing import Any

import pytest

from trackersim.analysis.typed_input import measured_of, readings_of, seen_of
from trackersim.clock import moment_at
from trackersim.errors import InputError
from trackersim.job.fields import Section
from trackersim.job.files import demo_text, job_from_data, load_job
from trackersim.job.model import Job
from trackersim.job.overrides import place_value
from trackersim.job.ranges import section_of
from trackersim.quantity_reading import _number_in, read_quantities, read_quantity
from trackersim.quantity_text import MOST_LETTERS, MOST_LIST_LETTERS, UnitError, is_unit, split_list, split_quantity

# The first three stood still for 9 s, 3 minutes and 16 s once.
HOSTILE = [
    "5 " + "a" * 38 + "!", "5 a" + " " * 100_000 + "!", "1 " * 450_000, "1" * 100_000, "1," * 50_000, "-" * 100_000,
    "1/" * 50_000, " " * 100_000 + "x", "\n" * 100_000, "6 per " * 20_000, "%" * 100_000, "[" * 20_000, "1e" * 30_000,
    "é" * 100_000, "x." * 50_000, "5 m" + "**9" * 25, "5 " + "m*" * 35 + "m", "5 " + "kilo" * 9 + "m",
    "1 1/" + "9" * 70,    "m" * 78 + "²", "5 " + "yotta" * 7 + "m**9", "½" * 80, "0." * 39, "1e999999999 m",
    "5'" * 40, "1 hr " * 16, "'" * 100_000,
]  # fmt: skip
ALPHABETS = [
    "0123456789",
    "0123456789.,+-−eE",
    "aAmftgpC°%²³*/^ ",
    "0 1/\"'½",
    " \t\n",
    "é٣²\x00{}[]()#",
    "kiloyotta*/ 1",
]
LONGEST_S = 0.05  # of processor time for one text
LONGEST_FIELD_S = 0.1  # and for a whole job with one hostile field


def texts(count: int) -> Iterator[str]:
    """Random text, most of it short, some as long as is read at all, some longer; the same every time."""
    chance = random.Random(20250321)
    for _ in range(count):
        alphabet = "".join(chance.sample(ALPHABETS, chance.choice([1, 1, 2, 3])))
        length = chance.choice([3, 10, 30, MOST_LETTERS - 2, MOST_LIST_LETTERS - 2, 20_000])
        start = chance.choice(["", "5 ", "5 m", "1 1/4 ", "-3,000 gal"])
        yield start + "".join(chance.choices(alphabet, k=length))


def is_slow(read: Callable[[], object], refusal: type[Exception], limit_s: float) -> bool:
    """Whether an answer, be it a value or a refusal, takes more processor time; anything else is an error of the test.

    A collection of garbage or a first import may fall into any one reading, so what was slow is
    read four times more: a text that is slow to read is slow each time.
    """
    for _ in range(5):
        start = time.thread_time()
        try:
            read()
        except refusal as error:
            told = str(error)  # putting it in words takes its time too
            if not told:
                pytest.fail("refused without a word")
        if time.thread_time() - start <= limit_s:
            return False
        _number_in.cache_clear()  # what was read once is kept, and would be quick the second time
    return True


def test_two_thousand_texts_into_the_reader_of_units() -> None:
    read_quantity("5 ft", "m")  # pint takes a second to load
    slow = [
        (text[:40], len(text))
        for text in [*texts(2000), *HOSTILE]
        for unit in ("", "m", "degC")
        if is_slow(lambda text=text, unit=unit: read_quantity(text, unit), UnitError, LONGEST_S)
    ]
    assert not slow


def test_two_thousand_texts_into_the_reader_of_lists() -> None:
    read_quantity("5 ft", "m")
    slow = [
        (text[:40], len(text))
        for text in [*texts(2000), *HOSTILE, "1 " * 400 + "m", "1.5 " * 400 + "gpm"]
        for unit in ("m", "m**3/s")
        if is_slow(lambda text=text, unit=unit: read_quantities(text, unit), UnitError, LONGEST_S)
    ]
    assert not slow


def plain_fields(model: type[Section], before: str = "") -> Iterator[str]:
    for name, info in model.model_fields.items():
        inner = section_of(info)
        key = f"{before}{info.alias or name}"
        if inner is None:
            yield key
        else:
            yield from plain_fields(inner, f"{key}.")


FIELDS = sorted(set(plain_fields(Job)))


def with_text(path: str, text: str) -> dict[str, Any]:
    data = deepcopy(DEMO)
    keys = path.split(".")
    if not place_value(data, keys, text):
        assert place_value(data, [keys[0], "0", *keys[1:]], text)
    return data


DEMO: dict[str, Any] = tomllib.loads(demo_text())


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: f"{text[:8]!r}x{len(text)}")
def test_every_field_of_a_job_answers_at_once(text: str) -> None:
    assert len(FIELDS) > 200
    load_job("demo")
    slow = [
        path
        for path in FIELDS
        if is_slow(lambda path=path: job_from_data(with_text(path, text)), InputError, LONGEST_FIELD_S)
    ]
    assert not slow


@pytest.mark.parametrize(
    "text", [*HOSTILE, "a." * 9_000 + "b=1", "trees.0." * 2_000 + "b=1"], ids=lambda t: f"{t[:8]!r}x{len(t)}"
)
def test_every_option_that_takes_text_answers_at_once(text: str) -> None:
    job = load_job("demo")
    read_quantity("5 ft", "m")
    questions: list[Callable[[], object]] = [
        lambda: moment_at(job.site, text),
        lambda: seen_of(sky=text, wind=text, air=text),
        lambda: measured_of(volume=text, seconds=[text, text]),
        lambda: measured_of(volume=None, flow=text, flow_error=text),
        lambda: readings_of(light=text, pressure=text, gauge_above=text, voltage=text, stands=text),
        *(
            lambda given=given: load_job("demo", [given])
            for given in (text, f"site.name={text}", f"trees={text}", f"{text}=3")
        ),
    ]  # fmt: skip
    for question in questions:
        assert not is_slow(question, InputError, LONGEST_FIELD_S)


@pytest.mark.parametrize(
    ("text", "number", "word"),
    [
        ("1 1/4 in", 1.25, "in"), ("1-1/4 in", 1.25, "in"), ("1¼ in", 1.25, "in"), ("½ in", 0.5, "in"),
        ("-1 1/4 in", -1.25, "in"), ("5/10", 0.5, ""), ("3,000 gal a day", 3000.0, "gal a day"), ("41F", 41.0, "F"),
        (" 12 \t ft ", 12.0, "ft"), ("1.5e3 W", 1500.0, "W"), (".5 m", 0.5, "m"), ("−3 ft", -3.0, "ft"),
    ],
)  # fmt: skip
def test_a_quantity_is_split(text: str, number: float, word: str) -> None:
    assert split_quantity(text) == (number, word)


@pytest.mark.parametrize(
    "text", ["1/0 in", "1 1/0 in", "3/21/2025", "1/2/3", "1 1/4/2 in", "1.5/2/3 m", "/4 in", ".", ",", "-"]
)
def test_what_is_no_fraction_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        read_quantity(text, "m")


def test_a_fraction_in_a_list_is_refused_not_taken_for_two_numbers() -> None:
    with pytest.raises(UnitError):
        read_quantities("1 1/4 in", "m")
    assert split_list("0 30 45 %") == ([0.0, 30.0, 45.0], "%")


@pytest.mark.parametrize("word", ["m", "sq mm", "m**3/s/m", "gal / day", "%/°C", "W/m2", "m^-1", "gpm/ft", "gal a day"])
def test_units_have_the_shape_of_one(word: str) -> None:
    assert is_unit(word)


@pytest.mark.parametrize("word", ["", "m/", "*m", "m//s", "m**", "m**99", "(m)", "2", "m+m", "a" * 41, "m* *m", "**2"])
def test_what_has_not_the_shape_of_a_unit(word: str) -> None:
    assert not is_unit(word)
