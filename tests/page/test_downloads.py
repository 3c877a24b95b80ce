"""Files to take away can be taken at any time, also while the page is being drawn, and by nobody else."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from starlette.responses import Response
from streamlit.runtime import Runtime
from streamlit.testing.v1 import AppTest

from trackersim.job.files import load_job, parse_job
from trackersim.page import keeper
from trackersim.page.state import Desk

NewPage = Callable[[], AppTest]
Take = Callable[[AppTest, str], Response]
Offered = Callable[[AppTest], dict[str, str]]
Asked = Callable[[str], Response]
SAVE = "Save this job as a file"


def text_of(answer: Response) -> str:
    return bytes(answer.body).decode()


def test_the_job_can_be_saved_while_the_page_is_drawn_and_other_visitors_runs_end(
    new_page: NewPage, take: Take, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The toolkit's own button gave nothing then."""
    page, other = new_page(), new_page()
    opened, found = keeper.opened, []

    def meanwhile(desk: Desk) -> bool:
        monkeypatch.setattr(keeper, "opened", opened)
        running = Runtime._instance  # the tool for tests forgets it when a page has been run
        other.run()
        other.run()
        monkeypatch.setattr(Runtime, "_instance", running)
        found.append(take(page, SAVE))
        return opened(desk)

    monkeypatch.setattr(keeper, "opened", meanwhile)
    page.run()
    (answer,) = found
    assert answer.status_code == 200
    assert parse_job(text_of(answer)).sha256() == load_job("demo").sha256()
    assert not page.exception
    assert not other.exception


def test_what_is_saved_is_the_job_as_it_is_at_the_click(page: AppTest, take: Take) -> None:
    page.session_state["desk"].data["site"]["name"] = "Low barn"  # what a run does before it comes to the link
    assert 'name = "Low barn"' in text_of(take(page, SAVE))


def test_a_file_comes_with_its_name_and_is_kept_by_no_browser(page: AppTest, take: Take) -> None:
    answer = take(page, SAVE)
    assert answer.headers["content-disposition"] == 'attachment; filename="job.toml"'
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-type"].startswith("application/toml")


def test_a_file_is_given_to_nobody_who_does_not_know_its_visitor(
    new_page: NewPage, offered: Offered, asked: Asked
) -> None:
    one, other = (offered(new_page())[SAVE] for _ in range(2))
    assert one != other
    *_, word, name = one.split("/")
    assert len(word) >= 20
    assert asked(f"/save/{word[:-1]}/{name}").status_code == 404
    assert asked(f"/save/{word}/sheet.pdf").status_code == 404


def script() -> None:
    """One link of two, by turns."""
    import streamlit as st

    from trackersim.page import downloads, runs

    runs.begin()
    name = "b.txt" if runs.this_run() > 1 else "a.txt"
    downloads.download("Save <it>", lambda: name, name, "text/plain")
    if not st.session_state.get("halfway"):
        downloads.forget_undrawn()


def test_a_file_goes_when_a_whole_run_no_longer_offers_it(offered: Offered, asked: Asked) -> None:
    page = AppTest.from_function(script).run()
    ((label, first),) = offered(page).items()
    assert label == "Save &lt;it&gt;"
    page.session_state["halfway"] = True
    ((_, second),) = offered(page.run()).items()
    assert (text_of(asked(first)), text_of(asked(second))) == ("a.txt", "b.txt")
    page.session_state["halfway"] = False
    page.run()
    assert (asked(first).status_code, text_of(asked(second))) == (404, "b.txt")
