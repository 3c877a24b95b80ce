"""Places by their address and in the top row."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from visiting import PATIENCE_MS, PLACES, Server, place, settled


def test_the_first_place_opens_at_its_own_name_and_keeps_the_state(
    new_page: Callable[..., Any], server: Server
) -> None:
    page = new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))

    def is_found() -> None:
        page.locator(".front .cost").wait_for(timeout=PATIENCE_MS)
        settled(page)
        assert page.get_by_text("Page not found").count() == 0
        assert page.url == f"{server.url}/?units=metric&delay=150"

    for spelled in ("Answer/", "answer"):
        page.goto(f"{server.url}/{spelled}?units=metric&delay=150")
        is_found()
    page.reload()
    is_found()
    place(page, "Manual")
    assert page.url == f"{server.url}/manual?units=metric&delay=150"
    page.go_back()
    is_found()
    assert [url for url in asked if not server.is_home(url)] == []


def test_the_link_to_the_first_place_leads_there_in_a_window_of_its_own(visitor: Any, server: Server) -> None:
    """As with the middle button: the toolkit gives it an empty address, which is that of the place one is in."""
    link = visitor.locator(".st-key-top").get_by_role("link", name="Answer", exact=True)
    place(visitor, "Manual")
    assert link.evaluate("link => link.href") == f"{server.url}/"
    visitor.locator(".units").get_by_text("metric").click()
    visitor.wait_for_function(
        "home => [...document.querySelectorAll('.st-key-top a')].some((link) => link.href === home)",
        arg=f"{server.url}/?units=metric",
        timeout=PATIENCE_MS,
    )
    link.click()
    visitor.wait_for_url(f"{server.url}/?units=metric", timeout=PATIENCE_MS)


def test_the_place_where_one_is_is_marked_in_the_top_row(visitor: Any) -> None:
    """For ears and for eyes, and no other."""

    def look(name: str) -> list[str]:
        link = visitor.locator(".st-key-top").get_by_role("link", name=name, exact=True)
        seen = "link => { const own = getComputedStyle(link); return [own.backgroundColor, own.boxShadow]; }"
        return list(link.evaluate(seen))

    marked = visitor.locator(".st-key-top a[aria-current=page]")
    elsewhere = {name: look(name) for name in PLACES[1:]}
    for name in PLACES:
        if name != "Answer":
            place(visitor, name)
        visitor.mouse.move(0, 500)  # off the link: a pointer on it changes its look
        marked.filter(has_text=name).wait_for(timeout=PATIENCE_MS)
        assert marked.all_inner_texts() == [name]
        if name != "Answer":
            now = look(name)
            assert all(one != other for one, other in zip(now, elsewhere[name], strict=True)), (name, now)
