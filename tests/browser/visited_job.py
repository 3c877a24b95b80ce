"""A job opened in a place of the page, and what is saved of it there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from visiting import PATIENCE_MS, Server, form, settled, telling, unfold

from trackersim.job.files import parse_job
from trackersim.job.model import Job


def open_in(page: Any, server: Server, place: str, job: str) -> None:
    """Go to a place by its address, and open a job file there, which must be of another name than the demonstration."""
    page.goto(f"{server.url}/{place}")
    page.locator(".st-key-form_toggle button").click(timeout=PATIENCE_MS)
    page.locator("details summary").filter(has_text="Files").first.click(timeout=PATIENCE_MS)
    page.locator(".st-key-job_file input[type=file]").set_input_files(
        {"name": "job.toml", "mimeType": "application/toml", "buffer": job.encode()}
    )
    name = parse_job(job).site.name
    with telling(page):
        page.locator(".st-key-form_toggle button").filter(has_text=name).wait_for(timeout=PATIENCE_MS)
    settled(page)


def saved(page: Any) -> Job:
    """The job as it is saved; opens the form for it."""
    if page.get_by_role("heading", name="The job", exact=True).count() == 0:
        form(page)
    if not page.get_by_role("link", name="Save this job as a file").is_visible():
        unfold(page, "Files")
    with page.expect_download() as taken:
        page.get_by_role("link", name="Save this job as a file").click()
    return parse_job(Path(taken.value.path()).read_text())


def kept(page: Any, words: str) -> None:
    """Wait until the browser keeps a job in which these words stand."""
    held = "words => (localStorage.getItem('trackersim.job') ?? '').includes(words)"
    page.wait_for_function(held, arg=words, timeout=PATIENCE_MS)
