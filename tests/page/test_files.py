"""Files a visitor brings and takes away: the job there and back, weather good and bad, nothing of the server's."""

from __future__ import annotations

import gc
from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from trackersim import simulate
from trackersim.errors import InputError
from trackersim.job.files import demo_text, load_job
from trackersim.job.folders import ClosedFolder
from trackersim.page import state, work
from trackersim.page.state import Desk, edit, first_desk, go_back, open_text, saved_text, settle, start_new
from trackersim.page.uploads import take_weather

NewPage = Callable[[], AppTest]
Go = Callable[..., AppTest]
Shown = Callable[[AppTest], str]
DeskOf = Callable[[AppTest], Desk]

SPRING = (Path(__file__).parents[2] / "weather_samples" / "clear-spring-day.csv").read_bytes()


def open_job(page: AppTest, text: str) -> AppTest:
    return page.file_uploader(key="job_file").upload("job.toml", text.encode(), "application/toml").run()


def bring(page: AppTest, content: bytes, name: str = "mine.csv") -> AppTest:
    return page.file_uploader(key="weather_file").upload(name, content, "text/csv").run()


def test_a_saved_job_opens_as_the_same_job(new_page: NewPage, desk_of: DeskOf) -> None:
    page = new_page()
    page.text_input(key="weather.file|us|0").set_value("sample:clear-spring-day")  # soon simulated
    page.text_input(key="source.lift|us|0").set_value("100 ft").run()
    good = desk_of(page).good
    assert good.source.lift_m == pytest.approx(30.48)
    other = open_job(new_page(), saved_text(good.plain()))
    assert desk_of(other).good.sha256() == good.sha256()
    assert not desk_of(other).stale


def test_a_saved_job_is_the_command_line_s_job_too(tmp_path: Path) -> None:
    path = tmp_path / "saved.toml"
    path.write_text(saved_text(first_desk().data), encoding="utf-8")
    assert load_job(path).sha256() == load_job("demo").sha256()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xff\xfe\x00j\x00o\x00b", "not text in UTF-8"),
        (b"", "site"),
        (b"[site\nname = 3", "line"),
        (b"just a letter", "line"),
        (b"a = 1\n" * 200_000, "larger than 1 MB"),
        (b"[zz" + b".a" * 3000 + b"]\n", "nested too deeply"),
        (b"[site]\nlatitude = 1" + b"0" * 400, "site.latitude"),
        (b"[weather]\nfile = '" + b"a" * 300 + b"'", "weather.file"),
        (b"[[wire]]\n" * 2000, "wire"),
        (b"".join(b"k%d = 1\n" % n for n in range(2000)), "and 1"),
    ],
)
def test_what_is_no_job_is_told_and_the_last_one_stays(
    stubborn: AppTest, shown: Shown, desk_of: DeskOf, content: bytes, words: str
) -> None:
    stubborn.file_uploader(key="job_file").upload("job.toml", content, "application/toml").run()
    assert words in shown(stubborn)
    assert "last job without a fault" in shown(stubborn)
    assert desk_of(stubborn).good.sha256() == load_job("demo").sha256()


@pytest.mark.parametrize("line", ["k{} = 1", "site.k{} = 1"])
def test_a_file_of_a_thousand_keys_is_never_written_again(monkeypatch: pytest.MonkeyPatch, line: str) -> None:
    """It was laid on the desk and written at every click: 2000 keys took 3 s, and ten times as many a hundred times."""
    monkeypatch.setattr(state, "saved_text", lambda data: pytest.fail("written"))
    desk = first_desk()
    before = desk.data
    open_text(desk, "\n".join(line.format(n) for n in range(1001)))
    assert len(desk.faults) > 1000
    assert desk.data == before


@pytest.mark.parametrize(
    "name",
    [
        "/etc/passwd",
        "../../etc/passwd",
        "~root/x.csv",
        "~",
        "..",
        "a/b.csv",
        "a\\b.csv",
        ".hidden",
        "a\nb.csv",
        "a\x00b",
    ],
)
def test_a_job_can_name_no_file_of_the_server(name: str) -> None:
    assert not ClosedFolder.holds(name)
    desk = first_desk()
    quoted = name.encode("unicode_escape").decode().replace("\\x00", "\\u0000").replace("\\\\", "\\")
    quoted = quoted.replace("\\b", "\\\\b") if name == "a\\b.csv" else quoted
    open_text(desk, demo_text().replace("sample:typical-year", quoted))
    assert [fault.field for fault in desk.faults] == ["weather.file"]
    assert "no file that was brought here" in str(desk.faults[0])


SNEAKY = {
    "the job's own": lambda name: demo_text().replace("sample:typical-year", name),
    "an option's": lambda name: demo_text() + f'\n[[option]]\nname = "x"\nset = {{"weather.file" = "{name}"}}\n',
    "an option's section": lambda name: (
        demo_text() + f'\n[[option]]\nname = "x"\nset = {{weather = {{file = "{name}"}}}}\n'
    ),
    "an option's first": lambda name: (
        demo_text() + f'\n[[option]]\nname = "x"\nset = {{"weather.0.file" = "{name}"}}\n'
    ),
}


@pytest.mark.parametrize("way", SNEAKY)
@pytest.mark.parametrize("name", ["/etc/passwd", "/etc/nothing", "../../../etc/passwd"])
def test_a_file_of_the_server_is_never_shown_nor_told_to_be_there(
    stubborn: AppTest, shown: Shown, desk_of: DeskOf, way: str, name: str
) -> None:
    open_job(stubborn, SNEAKY[way](name))
    assert "no file that was brought here" in shown(stubborn)
    assert "root:" not in shown(stubborn)
    assert not desk_of(stubborn).good.option


def test_brought_weather_is_simulated_and_its_job_asks_for_it_by_name(
    new_page: NewPage, desk_of: DeskOf, shown: Shown
) -> None:
    page = bring(new_page(), SPRING, "clear spring.csv")
    desk = desk_of(page)
    assert not desk.stale
    assert desk.good.weather.file == "clear spring.csv"
    assert simulate(desk.good).days == 1
    saved = saved_text(desk.data)
    other = open_job(new_page(), saved)
    assert "no file that was brought here" in shown(other)
    bring(other, SPRING, "clear spring.csv")
    assert not desk_of(other).stale
    assert desk_of(other).good.sha256() == desk.good.sha256()


def test_files_of_one_name_but_other_content_give_each_visitor_the_own_answer() -> None:
    one, other = first_desk(), first_desk()
    for desk, content in ((one, SPRING), (other, SPRING.replace(b"2025-04-", b"2025-06-"))):
        take_weather(desk, Given("mine.csv", content))
        assert not desk.faults, desk.faults
    assert one.good.sha256() == other.good.sha256()
    assert work.key_of(one.good) != work.key_of(other.good)
    assert work.own_year(one.good).times[0] != work.own_year(other.good).times[0]


class Given:
    def __init__(self, name: str, content: bytes) -> None:
        self.name, self._content = name, content

    def getvalue(self) -> bytes:
        return self._content


def test_a_visitor_s_files_go_with_the_visitor() -> None:
    desk = first_desk()
    take_weather(desk, Given("mine.csv", SPRING))
    assert desk.room is not None
    room = Path(desk.room.name)
    assert (desk.folder / "mine.csv").is_file()
    assert room.stat().st_mode & 0o077 == 0
    del desk
    gc.collect()
    assert not room.exists()


def test_a_bad_file_of_the_same_name_leaves_the_last_good_answer_alone() -> None:
    desk = first_desk()
    take_weather(desk, Given("mine.csv", SPRING))
    assert desk.room is not None
    good, before = desk.good, work.own_year(desk.good)
    for content in (b"Dear sir,\nthe pump is fine.\n", SPRING[: len(SPRING) // 3]):
        take_weather(desk, Given("mine.csv", content))
        assert desk.faults
        assert desk.good == good
        assert work.own_year(desk.good).water_m3 == before.water_m3
        assert desk.room.name not in "".join(str(fault) for fault in desk.faults)
    go_back(desk)
    assert not desk.faults
    edit(desk, "source.lift", "90 ft")
    settle(desk, work.own_year)
    assert not desk.faults
    assert work.own_year(desk.good).times.equals(before.times)


def test_files_that_no_job_names_any_more_go() -> None:
    desk = first_desk()
    for day in range(10, 15):
        take_weather(desk, Given("mine.csv", SPRING.replace(b"2025-04-", f"2025-0{day % 10 + 3}-".encode())))
    assert desk.room is not None
    assert len(list(Path(desk.room.name).iterdir())) <= 2


def test_a_brought_file_that_is_gone_is_a_fault_and_no_crash() -> None:
    desk = first_desk()
    take_weather(desk, Given("mine.csv", SPRING))
    (desk.folder / "mine.csv").unlink()
    with pytest.raises(InputError, match="is gone"):
        work.own_year(desk.good)
    edit(desk, "source.lift", "90 ft")
    assert [fault.field for fault in desk.faults] == ["weather.file"]


def test_a_job_with_faults_is_saved_as_it_is_typed() -> None:
    desk = first_desk()
    edit(desk, "source.lift", "70 gpm")
    other = first_desk()
    open_text(other, saved_text(desk.data))
    assert [str(fault) for fault in other.faults] == [str(fault) for fault in desk.faults]
    assert other.data["source"]["lift"] == "70 gpm"


def test_a_new_job_has_nothing_of_the_demonstration_s_site(page: AppTest, desk_of: DeskOf) -> None:
    page.button(key="new").click().run()
    good = desk_of(page).good
    assert not desk_of(page).stale
    assert good.site.name == "my site"
    assert not good.trees
    desk = first_desk()
    start_new(desk)
    assert desk.good == good


def test_faults_found_in_the_simulation_do_not_hide_those_already_standing() -> None:
    desk = first_desk()
    edit(desk, "site.latitude", "-36.1")
    edit(desk, "source.lift", "70 gpm")
    settle(desk, work.own_year)
    assert {fault.field for fault in desk.faults} == {"source.lift", "weather.file"}


@pytest.mark.parametrize(
    "name",
    ["../../x.csv", "/etc/passwd", "..", "~.csv", ".csv", "a" * 300 + ".csv", "ü №.csv", "𠀀" * 100 + ".csv", ""],
)
def test_any_name_of_a_brought_file_stays_in_its_room(name: str) -> None:
    desk = first_desk()
    take_weather(desk, Given(name, SPRING))
    assert not desk.faults
    assert ClosedFolder.holds(desk.good.weather.file)
    assert [path.name for path in desk.folder.iterdir()] == [desk.good.weather.file]
    assert desk.room is not None
    assert desk.folder.parent == Path(desk.room.name)


def year_of_hours(value: str) -> bytes:
    rows = (
        f"2025-{month:02d}-{day:02d} {hour:02d}:00,{value},12\n"
        for month, last in enumerate((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31), start=1)
        for day in range(1, last + 1)
        for hour in range(24)
    )
    return ("# label = interval starting\n# utc_offset = -5\ntime,ghi,air_c\n" + "".join(rows)).encode()


BAD_WEATHER = {
    "empty": (b"", "is empty"),
    "blank": (b" \n \n", "is empty"),
    "11 MB": (b"a" * 11_000_000, "larger than 10 MB"),
    "a picture named csv": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + b"\x00" * 100, "is not a text file"),
    "ten million columns": (
        b"time" + b"," * 9_999_900 + b"\n1,2\n",
        "weather.file = 'time,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,': begins line 1 of the file, which has 9,999,904 "
        "letters: no weather file has any such. Choose another file, or export it again with one row in each line.",
    ),
    "prose": (
        b"Dear sir,\nthe pump is fine.\n" * 20,
        "weather.file = 'mine.csv': is in no format this program knows (it begins with \"Dear sir,\"). Known formats: "
        "TMY3, TM2, EPW, PVGIS TMY (CSV or JSON) and plain CSV with named columns. Choose another file, or use",
    ),
    "a year of NaN": (
        year_of_hours("NaN"),
        "weather.file = '365 incomplete days': hold no day that is complete from sunrise to sunset. Use a log that "
        "holds at least one day from sunrise to sunset.",
    ),
    "bytes that are no text": (
        bytes(range(1, 256)) * 50,
        "weather.file = 'mine.csv': is in no format this program knows (it begins with \"��������\"). Known formats: "
        "TMY3, TM2, EPW, PVGIS TMY (CSV or JSON) and plain CSV with named columns. Choose another file, or use",
    ),
}


@pytest.mark.parametrize("name", BAD_WEATHER)
def test_bad_weather_is_told_in_words_and_the_last_answer_stays(
    page: AppTest, shown: Shown, desk_of: DeskOf, name: str, go: Go
) -> None:
    content, words = BAD_WEATHER[name]
    bring(page, content)
    text = shown(page)
    assert words in text
    assert "last job without a fault" in text
    assert desk_of(page).good.sha256() == load_job("demo").sha256()
    go(page, "answer", "Year, pump and wire")
    assert "this pump lifts about" in shown(page)


def test_weather_of_the_other_hemisphere_is_found_when_simulated(page: AppTest, shown: Shown, desk_of: DeskOf) -> None:
    """Some faults show only in the simulation: the page goes back to the last job that could be simulated."""
    page.text_input(key="site.latitude|us|0").set_value("-36.1").run()
    assert "last job without a fault" in shown(page)
    assert desk_of(page).good.sha256() == load_job("demo").sha256()
    assert page.text_input(key="site.latitude|us|0").value == "-36.1"
    page.text_input(key="site.latitude|us|0").set_value("36.1").run()
    assert not desk_of(page).stale


def test_plain_data_of_a_job_reads_back_to_it() -> None:
    desk = first_desk()
    assert desk.data == desk.good.plain()
