"""An answer on a terminal: dangers, the headline, then the blocks in their order; pictures are left out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from textwrap import wrap

from rich.box import SIMPLE
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table as Grid

from trackersim.report.blocks import Answer, Block, Caution, Heading, Listing, Note, Sentence, Table

_WIDEST = 10_000  # columns of a terminal on which any table has room


def say_answer(answer: Answer, console: Console | None = None) -> None:
    """Print an answer. Text is never markup, and no wider than the terminal."""
    console = console or Console()
    for danger in answer.dangers:
        _line(console, danger.text)
    _line(console, answer.headline)
    for block in answer.blocks:
        _say(console, block)


def _say(console: Console, block: Block) -> None:
    if isinstance(block, Table):
        for made in (grid(block), grid(with_broken_heads(block))):
            if console.measure(made, options=console.options.update(width=_WIDEST)).maximum <= console.width:
                console.print(made)
                return
        for line in row_by_row(block):
            _line(console, line)
    elif isinstance(block, Listing):
        for number, line in enumerate(block.lines, start=1):
            _line(console, f"{number}. {line}" if block.numbered else f"• {line}")
    elif isinstance(block, Heading | Sentence | Caution | Note):
        _line(console, block.text)


def _line(console: Console, text: str) -> None:
    if text:
        console.print(text, markup=False, highlight=False)


def with_broken_heads(table: Table) -> Table:
    """The table as narrow as it can be set without cutting a word: heads in lines no wider than what stands below."""
    columns = zip(table.header, *table.rows, strict=True)
    heads = tuple(_broken(head, (*cells, *head.split())) for head, *cells in columns)
    return replace(table, header=heads, tight=True)


def _broken(head: str, no_wider_than: Iterable[str]) -> str:
    widest = max(cell_len(line) for text in no_wider_than for line in text.split("\n"))
    return "\n".join(wrap(head, widest, break_long_words=False, break_on_hyphens=False))


def row_by_row(table: Table) -> list[str]:
    """A table that is wider than the terminal: under each row's name a line for each figure, so that none is lost."""
    lines = [line for line in (table.title, f"{_in_one_line(table.header[0])}:") if line.strip(":")]
    for name, *figures in table.rows:
        lines += [
            _in_one_line(name),
            *(
                f"  {_in_one_line(head)}: {_in_one_line(figure)}"
                for head, figure in zip(table.header[1:], figures, strict=True)
                if figure
            ),
        ]
    return lines


def _in_one_line(text: str) -> str:
    """A cell broken for a narrow column, as it stands in a line of its own."""
    return " ".join(text.split("\n"))


def grid(table: Table) -> Grid:
    """A table with the first column at the left and figures at the right."""
    made = Grid(box=SIMPLE, pad_edge=False, title=table.title or None, title_justify="left", title_style="")
    for number, words in enumerate(table.header):
        made.add_column(words, justify="left" if number == 0 else "right", no_wrap=True)
    for row in table.rows:
        made.add_row(*row)
    made.collapse_padding = table.tight
    return made
