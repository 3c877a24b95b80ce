"""Weather files damaged at random, the same every time: what disks, mails, spreadsheets and loggers do to them."""

from __future__ import annotations

import gzip
import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import makers
import skies

from trackersim.weather.samples import sample_path

Damage = Callable[[str, random.Random], str | bytes]
NORTH = {"latitude_deg": 45.0, "longitude_deg": 8.0}
HERE = {"latitude_deg": makers.LATITUDE, "longitude_deg": makers.LONGITUDE}
JUNE = slice(151 * 24, 181 * 24)


@dataclass(frozen=True, kw_only=True)
class Damaged:
    """A sound file's format, what was done to it, and what came of it."""

    kind: str
    done: str
    content: bytes


@cache
def june() -> skies.Hours:
    """A June of sun and clouds at 45 N 8 E."""
    return skies.cloudy_hours("2025-06-01", 30, latitude=45.0, longitude=8.0, offset_h=1.0, seed=4)


def _epw() -> str:
    head = makers.epw_head(latitude=45.0, longitude=8.0, offset_h=1.0, elevation=100.0)
    hours = june()
    columns = zip(hours.ghi, hours.dni, hours.dhi, hours.air_c, hours.wind_m_s, strict=True)
    rows = [
        f"2001,6,{k // 24 + 1},{k % 24 + 1},0,?9,{air},5.0,50,98000,0,0,300,{ghi},{dni},{dhi},0,0,0,0,270,{wind},"
        "5,5,20.0,7777,9,999999999,0,0.1,0,88,0.2,0,1"
        for k, (ghi, dni, dhi, air, wind) in enumerate(columns)
    ]
    return "\n".join([*head, *rows]) + "\n"


def _tmy3() -> str:
    lines = sample_path("typical-year").read_text(encoding="utf-8").splitlines()
    return "\n".join([*lines[:2], *lines[2:][JUNE]]) + "\n"


def _tm2() -> str:
    lines = (makers.PVLIB_DATA / "12839.tm2").read_text(encoding="latin-1").splitlines()
    return "\n".join([lines[0], *lines[1:][JUNE]]) + "\n"


def _pvgis_json() -> str:
    answer = json.loads(makers.pvgis_json())
    answer["outputs"]["tmy_hourly"] = answer["outputs"]["tmy_hourly"][JUNE]
    return json.dumps(answer)


@cache
def sound() -> dict[str, tuple[str, dict[str, float]]]:
    """A sound file of each format, most of them of one month, and the site it belongs to."""
    return {
        "TMY3": (_tmy3(), HERE),
        "TM2": (_tm2(), {"latitude_deg": 25.8, "longitude_deg": -80.27}),
        "EPW": (_epw(), NORTH),
        "PVGIS CSV": (makers.pvgis_csv(), NORTH),
        "PVGIS JSON": (_pvgis_json(), NORTH),
        "plain CSV": (skies.as_log(june(), latitude=45.0, longitude=8.0, offset_h=1.0), NORTH),
    }


# Files damaged of each format, 500 in all; PVGIS's CSV has its whole year, which takes the longest.
COUNTS = {"TMY3": 95, "TM2": 85, "EPW": 95, "PVGIS CSV": 30, "PVGIS JSON": 95, "plain CSV": 100}
WORDS = (
    "nan", "NaN", "inf", "-inf", "Infinity", "1e308", "-1e308", "1e999", "5e-324", "-9999", "9999", "99999", "", " ",
    "x", "1,5", "1.5.2", "--", "-", "0x10", "1_000", "9" * 400, "null", "true", "#N/A", "=1+1", "12:00", "٣٤", "½", "é",
    "\x00", '"', "'", "1e", "+", "-0", "NULL", "#", "[1]", "{}",
)  # fmt: skip


def damaged(seed: int = 14) -> Iterator[Damaged]:
    """The 500 files, each with one or two damages."""
    for kind, count in COUNTS.items():
        text = sound()[kind][0]
        chance = random.Random(f"{seed} {kind}")
        names = [*ANY, *(JSON if kind == "PVGIS JSON" else LINES)]
        ways = {**ANY, **LINES, **JSON}
        for number in range(count):
            # Each way in its turn, so that none is left to chance; every third file has a second damage.
            chosen = [names[number % len(names)], *([chance.choice(names)] if number % 3 == 2 else [])]
            content: str | bytes = text
            for name in chosen:
                if isinstance(content, str):
                    content = ways[name](content, chance)
            content = content.encode("utf-8", errors="replace") if isinstance(content, str) else content
            yield Damaged(kind=kind, done=f"{number}: {' + '.join(chosen)}", content=content)


def _lines(change: Callable[[list[str], random.Random], None]) -> Damage:
    def done(text: str, chance: random.Random) -> str:
        lines = text.split("\n")
        change(lines, chance)
        return "\n".join(lines)

    return done


def _cells(text: str, change: Callable[[list[str]], None], *, lines: slice = slice(10, None)) -> str:
    """The cells of each row changed: at commas, or where the columns of a TM2 stand."""
    rows = text.split("\n")
    for at in range(*lines.indices(len(rows))):
        separator = "," if "," in rows[at] else " "
        cells = rows[at].split(separator)
        change(cells)
        rows[at] = separator.join(cells)
    return "\n".join(rows)


def _part(text: str, chance: random.Random, most: int = 3000) -> tuple[int, int]:
    start = chance.randrange(len(text))
    return start, min(len(text), start + chance.randrange(1, most))


def _truncated(text: str, chance: random.Random) -> str:
    return text[: chance.randrange(len(text))]


def _beheaded(text: str, chance: random.Random) -> str:
    return text[chance.randrange(len(text) // 2) :]


def _flipped(text: str, chance: random.Random) -> bytes:
    content = bytearray(text.encode())
    for _ in range(chance.choice([1, 10, 100, 1000])):
        content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
    return bytes(content)


def _cut_out(text: str, chance: random.Random) -> str:
    start, end = _part(text, chance)
    return text[:start] + text[end:]


def _overwritten(text: str, chance: random.Random) -> str:
    start, end = _part(text, chance, 300)
    return text[:start] + chance.choice(["\x00", " ", "\n", "9", ",", "ÿ", "\t", "["]) * (end - start) + text[end:]


def _glued(text: str, chance: random.Random) -> str:
    return text + chance.choice([text, next(each for each, _ in sound().values() if each != text)])


def _as_bytes(text: str, chance: random.Random) -> bytes:
    names = ("utf-16", "utf-16-le", "utf-32", "utf-8-sig", "cp037", "utf-7", "gzip", "latin-1")
    name = chance.choice(names)
    text = text.replace("invented", "erfunden für Höfe", 1)
    return gzip.compress(text.encode(), mtime=0) if name == "gzip" else text.encode(name, errors="replace")


def _line_ends(text: str, chance: random.Random) -> str:
    return text.replace("\n", chance.choice(["\r", "\r\n", "\r\r\n", "\n\n", "\x0b", "\x85", "\u2028", "\x1e\n", ""]))


def _quotes(text: str, chance: random.Random) -> str:
    for _ in range(chance.choice([1, 2, 50])):
        at = chance.randrange(len(text))
        text = text[:at] + chance.choice(['"', "'", "“", '""']) + text[at:]
    return text


def _words(text: str, chance: random.Random) -> str:
    """A few numbers of the text, in the head or below it, replaced by something else."""
    for _ in range(chance.choice([1, 3, 30])):
        at = chance.randrange(len(text))
        start = max(text.rfind(each, 0, at) for each in ",\n: ") + 1
        ends = [end for each in ",\n}" if (end := text.find(each, start)) >= 0]
        text = text[:start] + chance.choice(WORDS) + text[min(ends, default=len(text)) :]
    return text


def _head_words(text: str, chance: random.Random) -> str:
    """The same within the first lines alone."""
    end = 400
    for line in range(12):
        end = max(end, text.find("\n", end) if line < 3 else end)
    return _words(text[:end], chance) + text[end:]


def _long_line(text: str, chance: random.Random) -> str:
    at = text.find("\n", chance.randrange(len(text))) + 1
    return text[:at] + chance.choice([",", "9", " ", "a,", "#"]) * 300_000 + "\n" + text[at:]


def _column_word(text: str, chance: random.Random) -> str:
    """A whole column is another word."""
    at, word = chance.randrange(1, 25), chance.choice(WORDS)

    def change(cells: list[str]) -> None:
        if at < len(cells):
            cells[at] = word

    return _cells(text, change)


def _columns_swapped(text: str, chance: random.Random) -> str:
    one, other = chance.sample(range(24), 2)

    def change(cells: list[str]) -> None:
        if max(one, other) < len(cells):
            cells[one], cells[other] = cells[other], cells[one]

    return _cells(text, change)


def _column_lost(text: str, chance: random.Random) -> str:
    at = chance.randrange(10)
    return _cells(text, lambda cells: cells.pop(at) if at < len(cells) else None)  # type: ignore[arg-type, return-value]


def _decimal_commas(text: str, chance: random.Random) -> str:
    start = chance.randrange(len(text) // 2) if chance.random() < 0.5 else 0
    return text[:start] + text[start:].replace(".", ",")


def _separators(text: str, chance: random.Random) -> str:
    other = chance.choice([";", "\t", "|", " ", ",,", ", ", ";;"])
    return text.replace(",", other) if "," in text else text.replace(" ", other)


def _doubled(lines: list[str], chance: random.Random) -> None:
    start = chance.randrange(len(lines))
    part = lines[start : start + chance.choice([1, 24, 300])]
    at = chance.choice([start, chance.randrange(len(lines))])
    lines[at:at] = part


def _lines_lost(lines: list[str], chance: random.Random) -> None:
    start = chance.randrange(len(lines))
    del lines[start : start + chance.choice([1, 2, 5, 24, 100])]


def _shuffled(lines: list[str], chance: random.Random) -> None:
    start = chance.randrange(len(lines))
    part = lines[start : start + 48]
    chance.shuffle(part)
    lines[start : start + 48] = part


def _cut_rows(lines: list[str], chance: random.Random) -> None:
    for _ in range(chance.choice([1, 20])):
        at = chance.randrange(len(lines))
        lines[at] = lines[at][: chance.randrange(len(lines[at]) + 1)]


def _remarks_between(lines: list[str], chance: random.Random) -> None:
    for word in ("# battery low", "", "   ", "LOGGER RESTARTED", "-----", "\f", "time,ghi"):
        lines.insert(chance.randrange(len(lines)), word)


def _stamps_moved(text: str, chance: random.Random) -> str:
    swaps = [("2025-06", "2025-13"), ("06/", "31/"), ("06/1", "02/3"), ("2025-06-1", "0000-06-1"), (" 12:", " 25:"),
             (",6,", ",0,"), ("2025-06-2", "2525-06-2"), ("12:00", "24:00"), ("2025-", "25-"), ("-06-", "/6/"),
             ("0615", "0231")]  # fmt: skip
    for old, new in chance.sample(swaps, 5):
        text = text.replace(old, new, chance.choice([1, 10, 100_000]))
    return text


def _in_json(change: Callable[[dict[str, object], random.Random], object]) -> Damage:
    def done(text: str, chance: random.Random) -> str:
        try:
            answer = json.loads(text)
        except (ValueError, RecursionError):
            return text
        if not isinstance(answer, dict):
            return text
        found = change(answer, chance)
        try:
            return json.dumps(answer) if found is None else str(found)
        except ValueError:  # no more than 4,300 digits are written
            return text

    return done


def _places(node: object) -> Iterator[tuple[object, object]]:
    pairs = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in pairs:
        yield node, key
        yield from _places(value)


VALUES = (None, [], {}, 5, -1, "x", "", True, [[[]]], 10**400, float("inf"), float("nan"), 1e308, "1e999", {"a": 1})


def _json_value(answer: dict[str, object], chance: random.Random) -> None:
    spots = list(_places(answer))
    # The first are those of the head; of the rows there are thousands.
    for _ in range(chance.choice([1, 2])):
        node, key = chance.choice([*spots[:12], *spots[-20:], chance.choice(spots)])
        node[key] = chance.choice(VALUES)  # type: ignore[index]


def _json_lost(answer: dict[str, object], chance: random.Random) -> None:
    node, key = chance.choice(list(_places(answer))[: chance.choice([12, 60])])
    if isinstance(node, dict) and key in node:
        del node[key]


def _json_column(answer: dict[str, object], chance: random.Random) -> object:
    rows = answer.get("outputs", {}).get("tmy_hourly", [])  # type: ignore[attr-defined]
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        return None
    key = chance.choice(list(rows[0]))
    way, value = chance.choice(["set", "drop", "swap"]), chance.choice(VALUES)
    other = chance.choice(list(rows[0]))
    for row in rows:
        if way == "set":
            row[key] = value
        elif way == "drop":
            row.pop(key, None)
        else:
            row[key], row[other] = row.get(other), row.get(key)
    return None


def _json_deep(answer: dict[str, object], chance: random.Random) -> str:
    deep = chance.choice(['{"a":', "["]) * chance.choice([500, 20_000, 200_000])
    return chance.choice([deep, '{"outputs": {"tmy_hourly": ' + deep, json.dumps(answer)[:-1] + ', "more": ' + deep])


ANY: dict[str, Damage] = {
    "truncated": _truncated, "beheaded": _beheaded, "flipped": _flipped, "cut out": _cut_out,
    "overwritten": _overwritten, "glued": _glued, "encoded": _as_bytes, "line ends": _line_ends, "quotes": _quotes,
    "words": _words, "head": _head_words,
}  # fmt: skip
LINES: dict[str, Damage] = {
    "long line": _long_line, "column of one word": _column_word, "columns swapped": _columns_swapped,
    "column lost": _column_lost, "decimal commas": _decimal_commas, "separators": _separators,
    "doubled": _lines(_doubled), "lines lost": _lines(_lines_lost), "shuffled": _lines(_shuffled),
    "rows cut": _lines(_cut_rows), "remarks between": _lines(_remarks_between), "stamps": _stamps_moved,
}  # fmt: skip
JSON: dict[str, Damage] = {
    "value": _in_json(_json_value), "key lost": _in_json(_json_lost), "column": _in_json(_json_column),
    "deep": _in_json(_json_deep),
}  # fmt: skip


Values = dict[str, list[float]]  # "ghi", "dni", "dhi", "air": of every row
# Where each format keeps light and air: cells between commas, or letters of a TM2; the number of lines above the rows.
_CELLS = {
    "TMY3": (2, {"ghi": 4, "dni": 5, "dhi": 6, "air": 7}),
    "EPW": (8, {"ghi": 13, "dni": 14, "dhi": 15, "air": 6}),
    "PVGIS CSV": (18, {"ghi": 3, "dni": 4, "dhi": 5, "air": 1}),
    "plain CSV": (7, {"ghi": 1, "dni": 2, "dhi": 3, "air": 4}),
}
_LETTERS = {"ghi": slice(17, 21), "dni": slice(23, 27), "dhi": slice(29, 33), "air": slice(67, 71)}
_KEYS = {"ghi": "G(h)", "dni": "Gb(n)", "dhi": "Gd(h)", "air": "T2m"}


def crafted(kind: str, change: Callable[[Values], None]) -> str:
    """The sound file of a format with its figures changed."""
    text = sound()[kind][0]
    if kind == "PVGIS JSON":
        answer = json.loads(text)
        rows = answer["outputs"]["tmy_hourly"]
        values = {name: [float(row[key]) for row in rows] for name, key in _KEYS.items()}
        change(values)
        for at, row in enumerate(rows):
            row.update({key: round(values[name][at], 2) for name, key in _KEYS.items()})
        return json.dumps(answer)
    lines = text.splitlines()
    if kind == "TM2":
        values = {name: [float(line[part]) for line in lines[1:]] for name, part in _LETTERS.items()}
        change(values)
        for at, line in enumerate(lines[1:], 1):
            for name, part in _LETTERS.items():
                line = line[: part.start] + f"{values[name][at - 1]:4.0f}" + line[part.stop :]
            lines[at] = line
        return "\n".join(lines) + "\n"
    above, places = _CELLS[kind]
    below = next((at for at in range(above, len(lines)) if not lines[at][:1].isdigit()), len(lines))
    table = [line.split(",") for line in lines[above:below]]
    values = {name: [float(cells[place]) for cells in table] for name, place in places.items()}
    change(values)
    for at, cells in enumerate(table):
        for name, place in places.items():
            cells[place] = f"{values[name][at]:.1f}"
    return "\n".join([*lines[:above], *(",".join(cells) for cells in table), *lines[below:]]) + "\n"
