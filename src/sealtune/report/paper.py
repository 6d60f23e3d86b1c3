"""Sheets of A4 that are filled from top to bottom with text, tables and figures, and saved as PDF by matplotlib."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure, SubFigure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from sealtune.report.content import clean
from sealtune.report.drawing import Format, settings
from sealtune.report.look import LIGHT

WIDTH_PT, HEIGHT_PT = 595.3, 841.9
MARGIN_PT = 34.0
COLUMN_PT = WIDTH_PT - 2.0 * MARGIN_PT
TEXT_PT = 8.2

_LEADING = 1.28
_FAMILY = "DejaVu Sans"


class Paper:
    """Sheets, and how far the last one is filled; measures in points of 1/72 inch from the upper left corner."""

    def __init__(self, foot: str) -> None:
        """Begin with one empty sheet; foot: a line at the bottom of each."""
        self._foot = foot
        self._letters = frozenset(get_font(findfont(_FAMILY)).get_charmap())
        self._advances = {bold: _advances("bold" if bold else "normal") for bold in (False, True)}
        self._sheets: list[Figure] = []
        self.y = 0.0
        self.new_sheet()

    @property
    def sheet(self) -> Figure:
        """The sheet that is being filled."""
        return self._sheets[-1]

    @property
    def count(self) -> int:
        """How many sheets there are."""
        return len(self._sheets)

    def new_sheet(self) -> None:
        """Begin a new sheet."""
        self._sheets.append(Figure(figsize=(WIDTH_PT / 72.0, HEIGHT_PT / 72.0), facecolor="white"))
        self.y = MARGIN_PT
        self.write(MARGIN_PT, HEIGHT_PT - 22.0, self._foot, 7.0, colour="soft")

    def room(self, height: float) -> None:
        """Begin a new sheet where less than that is left of this one."""
        if self.y + height > HEIGHT_PT - MARGIN_PT - 4.0:
            self.new_sheet()

    def write(
        self, x: float, y: float, text: str, size: float = TEXT_PT, *, bold: bool = False, colour: str = "ink"
    ) -> None:
        """Put one line of text with its upper left corner there."""
        self.sheet.text(
            x / WIDTH_PT, 1.0 - (y + 0.8 * size) / HEIGHT_PT, self.printable(text), fontsize=size, va="baseline",
            family=_FAMILY, weight="bold" if bold else "normal", color=LIGHT[colour], parse_math=False,
        )  # fmt: skip

    def paragraph(
        self, text: str, size: float = TEXT_PT, *, x: float = MARGIN_PT, width: float = COLUMN_PT, bold: bool = False,
        colour: str = "ink", after: float = 2.0,
    ) -> None:  # fmt: skip
        """Put a text in as many lines as it takes, on this sheet and, where it is full, on the next one."""
        for line in self.lines_of(text, size, width, bold=bold):
            self.room(size * _LEADING)
            self.write(x, self.y, line, size, bold=bold, colour=colour)
            self.y += size * _LEADING
        self.y += after

    def heading(self, text: str, below: float = 30.0) -> None:
        """Put the heading of a section, with room for what follows."""
        self.room(16.0 + below)
        self.y += 5.0
        self.line(MARGIN_PT, self.y, COLUMN_PT)
        self.y += 3.5
        self.write(MARGIN_PT, self.y, text, 8.6, bold=True, colour="soft")
        self.y += 13.0

    def table(
        self, rows: Sequence[Sequence[str]], widths: Sequence[float], *, size: float = 7.6, x: float = MARGIN_PT,
        marked: Sequence[bool] = (), colour: str = "ink",
    ) -> None:  # fmt: skip
        """Put rows of cells, the first row the heads.

        widths: of the columns, points
        marked: rows, the heads not counted, whose second cell stands out
        """
        for place, row in enumerate(rows):
            head = place == 0
            cells = [
                self.lines_of(cell, size, width - 6.0, bold=column == 1 and not head)
                for column, (cell, width) in enumerate(zip(row, widths, strict=True))
            ]
            height = max(1, *map(len, cells)) * size * _LEADING + 2.0
            self.room(height)
            left = x
            for column, (lines, width) in enumerate(zip(cells, widths, strict=True)):
                out = column == 1 and place > 0 and place <= len(marked) and marked[place - 1]
                for number, line in enumerate(lines):
                    self.write(
                        left, self.y + number * size * _LEADING, line, size, bold=column == 1 and not head,
                        colour="soft" if head else colour if out else "ink",
                    )  # fmt: skip
                left += width
            self.y += height
            self.line(x, self.y - 1.2, sum(widths) - 6.0)
        self.y += 3.0

    def line(self, x: float, y: float, width: float) -> None:
        """Put a thin line."""
        across = (x / WIDTH_PT, (x + width) / WIDTH_PT)
        height = 1.0 - y / HEIGHT_PT
        self.sheet.add_artist(Line2D(across, (height, height), color=LIGHT["rule"], linewidth=0.5))

    def block(self, x: float, y: float, width: float, height: float, colour: str) -> None:
        """Put a filled rectangle."""
        corner = (x / WIDTH_PT, 1.0 - (y + height) / HEIGHT_PT)
        size = (width / WIDTH_PT, height / HEIGHT_PT)
        self.sheet.add_artist(Rectangle(corner, *size, facecolor=LIGHT[colour], edgecolor="none"))

    def figure(
        self, draw: Callable[[SubFigure, Format], object], x: float, y: float, width: float, height: float,
        *, letters_pt: float = 7.5, legend_columns: int = 2,
    ) -> None:  # fmt: skip
        """Have a figure drawn in a rectangle of the sheet."""
        across = (x, width, max(WIDTH_PT - x - width, 1e-3))
        down = (y, height, max(HEIGHT_PT - y - height, 1e-3))
        grid = self.sheet.add_gridspec(3, 3, width_ratios=across, height_ratios=down, wspace=0.0, hspace=0.0)
        part = self.sheet.add_subfigure(grid[1, 1], facecolor="none")
        size = Format(width / 72.0, height / 72.0, letters_pt, legend_columns, narrow=True)
        with rc_context(settings(letters_pt)):
            draw(part, size)

    def printable(self, text: str) -> str:
        """Return the text with a question mark for every letter that the font has not."""
        return "".join(letter if ord(letter) in self._letters else "?" for letter in clean(text))

    def lines_of(self, text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
        """Return the lines into which a text breaks; a word that is too long for a line is cut."""
        advances = self._advances[bold]

        def wide(words: str) -> float:
            return size * sum(advances(letter) for letter in words)

        lines: list[str] = []
        line = ""
        for word in self.printable(text).split():
            longer = f"{line} {word}" if line else word
            if wide(longer) <= width:
                line = longer
                continue
            if line:
                lines.append(line)
            while wide(word) > width and len(word) > 1:
                cut = next(
                    end for end in range(len(word) - 1, 0, -1) if end == 1 or wide(word[:end]) <= width
                )
                lines.append(word[:cut])
                word = word[cut:]
            line = word
        return [*lines, line] if line else lines

    def pdf(self, title: str, program: str, made_at: datetime) -> bytes:
        """Return the sheets as a PDF file; the same bytes for the same sheets."""
        target = io.BytesIO()
        about = {"Title": clean(title), "Creator": program, "Producer": None, "CreationDate": made_at}
        style: dict[Any, Any] = {"pdf.fonttype": 42, "font.family": [_FAMILY], "hatch.linewidth": 0.6}
        with rc_context(style), PdfPages(target, metadata=about) as pages:
            for sheet in self._sheets:
                pages.savefig(sheet)
        return target.getvalue()


def _advances(weight: str) -> Callable[[str], float]:
    """Return how wide each letter of the font is, over the font's size; kerning is left out."""
    font = get_font(findfont(FontProperties(family=_FAMILY, weight=weight)))
    font.set_size(1000.0, 72.0)

    def advance(letter: str) -> float:
        return float(font.load_char(ord(letter)).linearHoriAdvance) / 65536.0 / 1000.0

    return cache(advance)
