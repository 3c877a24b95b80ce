"""The page is set in the typeface that it brings along, and gets it from its own server."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from visiting import Server, place

from trackersim.report.lettering import FAMILY

_LOADED = (
    "family => [...document.fonts].filter(f => f.family.includes(family) && f.status === 'loaded').map(f => f.weight)"
)
# The first family of a part and, to see that it is more than a name, its width against that without the typeface.
_SET_IN = """selector => {
  const deep = [document, ...[...document.querySelectorAll('*')].map(e => e.shadowRoot).filter(Boolean)];
  const part = deep.map(root => root.querySelector(selector)).find(Boolean);
  return getComputedStyle(part).fontFamily.split(',')[0].replaceAll('"', '');
}"""


def test_the_page_and_its_parts_are_set_in_it(visitor: Any) -> None:
    assert sorted(visitor.evaluate(_LOADED, FAMILY)) == ["400", "700"]
    assert visitor.evaluate("family => document.fonts.check(`16px '${family}'`)", FAMILY)
    for selector in ("body", "h1", ".strip", ".front .cost", ".st-key-places a"):
        assert visitor.evaluate(_SET_IN, selector) == FAMILY, selector
    place(visitor, "Trees")
    assert visitor.evaluate(_SET_IN, ".sky .told") == FAMILY
    place(visitor, "Morning")
    assert visitor.evaluate(_SET_IN, ".player .sentence") == FAMILY


def test_its_server_gives_it_and_nothing_that_lies_elsewhere(new_page: Callable[..., Any], server: Server) -> None:
    asked = new_page().request
    for name in ("AtkinsonHyperlegibleNext-Regular.woff2", "AtkinsonHyperlegibleNext-Bold.woff2", "OFL.txt"):
        answer = asked.get(f"{server.url}/typeface/{name}")
        assert answer.ok
        assert "frame-ancestors 'self'" in answer.headers["content-security-policy"]
    secret = Path(__file__).parents[2] / "trackersim" / "data" / "demo.toml"
    assert secret.exists()
    for way in ("../demo.toml", "%2e%2e/demo.toml", "..%2fdemo.toml", "%2e%2e%2fdemo.toml"):
        assert "Hill farm" not in asked.get(f"{server.url}/typeface/{way}").text(), way
    assert asked.get(f"{server.url}/typeface/").status == 404
