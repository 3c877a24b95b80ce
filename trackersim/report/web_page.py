"""A document as one web page that any browser opens without the internet: to send to the customer.

Everything that is said is set as text, figures are pictures inside the file, and its own rule lets no script run and
nothing be fetched. It has no limit of paper, but says the same in the same order, and the same bytes for the same
document.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator
from functools import cache
from html import escape
from importlib.resources import files

from trackersim.report.blocks import Block, Caution, Heading, Listing, Note, Picture, Sentence, Table
from trackersim.report.lettering import BOLD, FACE_FOLDER, FAMILY, REGULAR, one_line
from trackersim.report.paper import Document, FrontBlock, KeyFigures, Lead, Shortened, svg

_RULE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"


def web_page(document: Document) -> bytes:
    """The document as one HTML file.

    Parameters
    ----------
    document : Document
        What is to be said.

    Returns
    -------
    bytes
        UTF-8.
    """
    parts = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_RULE}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f'<meta name="generator" content="{_text(document.program)}">',
        f"<title>{_text(document.title)}</title>",
        f"<style>{_typeface()}{files('trackersim.report').joinpath('web_page.css').read_text(encoding='utf-8')}</style>",
        f"</head><body><main><h1>{_text(document.name)}</h1><p class='for'>{_text(document.subtitle)}</p>",
        *_set(document.front, level=2),
        f"<h2 class='rest'>{_text(document.appendix_name)}</h2>",
        *_set(document.appendix, level=3),
        f"</main><footer>{_text(document.foot)}</footer></body></html>",
    ]
    return "\n".join(parts).encode()


@cache
def _typeface() -> str:
    """The shipped letters as part of the file."""
    return "\n".join(
        f"@font-face {{ font-family: '{FAMILY}'; font-weight: {weight}; src: url(data:font/woff2;base64,"
        f"{base64.b64encode((FACE_FOLDER / f'{name}.woff2').read_bytes()).decode()}) format('woff2'); }}"
        for name, weight in ((REGULAR, 400), (BOLD, 700))
    )


def _set(blocks: Iterable[FrontBlock], *, level: int) -> Iterator[str]:
    for block in blocks:
        yield from _shortened(block) if isinstance(block, Shortened) else [_one(block, level)]


def _shortened(block: Shortened) -> Iterator[str]:
    whole = block.block
    lines = whole.rows if isinstance(whole, Table) else whole.lines
    if isinstance(whole, Table):
        yield _table(whole, whole.rows[: block.most])
    else:
        yield _list(whole.lines[: block.most], numbered=whole.numbered)
    if len(lines) > block.most:
        yield f"<p>{_text(block.more.replace('{}', str(len(lines) - block.most)))}</p>"


def _one(block: Block | Lead | KeyFigures, level: int) -> str:
    match block:
        case Heading():
            return f"<h{level}>{_text(block.text)}</h{level}>"
        case Lead() | Sentence() | Note():
            return f"<p class='{type(block).__name__.lower()}'>{_text(block.text)}</p>"
        case KeyFigures():
            told = (f"<div><dt>{_text(meaning)}</dt><dd>{_text(value)}</dd></div>" for value, meaning in block.figures)
            return f"<dl>{''.join(told)}</dl>"
        case Listing():
            return _list(block.lines, numbered=block.numbered)
        case Table():
            return _table(block, block.rows)
        case Picture():
            data = base64.b64encode(svg(block, letters="outlines").encode()).decode()
            return f'<img src="data:image/svg+xml;base64,{data}" alt="{_text(block.alt)}">'
        case Caution():
            begins = {"caution": "CAUTION: ", "danger": "WARNING: "}.get(block.level, "")
            return f"<p class='{block.level}'>{begins}{_text(block.text)}</p>"


def _list(lines: Iterable[str], *, numbered: bool) -> str:
    kind = "ol" if numbered else "ul"
    return f"<{kind}>{''.join(f'<li>{_text(line)}</li>' for line in lines)}</{kind}>"


def _table(table: Table, rows: Iterable[tuple[str, ...]]) -> str:
    """A wide table scrolls by itself, so that a phone's page does not; so it can be reached by keyboard."""
    sides = [" class='number'" if number else "" for number in table.of_numbers]
    title = f"<caption>{_text(table.title)}</caption>" if table.title else ""
    head = "".join(f"<th scope='col'{side}>{_text(name)}</th>" for name, side in zip(table.header, sides, strict=True))
    body = "".join(
        f"<tr>{''.join(f'<td{side}>{_text(cell)}</td>' for cell, side in zip(row, sides, strict=True))}</tr>"
        for row in rows
    )
    name = _text(table.title or " · ".join(table.header))
    return (
        f'<div class="wide" role="region" tabindex="0" aria-label="{name}">'
        f"<table>{title}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def _text(text: str) -> str:
    return escape(" ".join(one_line(text).split()))
