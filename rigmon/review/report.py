"""A run's report: one file that stands alone, to be read, printed and kept."""

from __future__ import annotations

import html
import io
import textwrap
from collections.abc import Iterator
from pathlib import Path

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from rigmon import __version__
from rigmon.review import page, story
from rigmon.review.figures import Drawing
from rigmon.review.lessons import do_differently, held_back
from rigmon.review.looks import looks
from rigmon.review.story import Story
from rigmon.review.told import Told
from rigmon.store.archive import Archive

_A4_INCH = (8.27, 11.69)
_DPI = 150
_WIDE_INCH, _HIGH_INCH = 7.6, 2.7
_TEXT_WIDTH = 106

_STYLE = """
:root { color-scheme: light; }
body { margin: 2rem auto; max-width: 50rem; padding: 0 1rem; background: #fff; color: #222;
  font: 1rem/1.5 system-ui, sans-serif; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: 0 0 .2rem; overflow-wrap: anywhere; }
h2 { font-size: 1.1rem; margin: 2rem 0 .4rem; padding-bottom: .2rem;
  border-bottom: 1px solid #ccc; }
p.sub { margin: 0 0 1.2rem; color: #555; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: .15rem .8rem .15rem 0;
  overflow-wrap: anywhere; }
th { font-weight: 600; white-space: nowrap; width: 6.5rem; }
td.t { white-space: nowrap; text-align: right; width: 7rem; color: #555; }
tr.alarm td { color: #a11d33; }
ul { margin: .3rem 0; padding-left: 1.2rem; }
li { margin: .2rem 0; }
figure { margin: 1.2rem 0; break-inside: avoid; }
figure svg { width: 100%; height: auto; }
footer { margin-top: 2.5rem; color: #555; font-size: .85rem; border-top: 1px solid #ccc;
  padding-top: .4rem; }
@media print { body { margin: 0; max-width: none; font-size: 10pt; } h2 { break-after: avoid; }
  tr, li { break-inside: avoid; } }
@page { size: A4; margin: 16mm; }
"""


def html_of(log: Archive, run_id: str) -> str:
    """The report of one run as one page of HTML: no script, nothing fetched.

    Raises:
        LogError: no such run, or the log cannot be read.
        ConfigError: a newer program wrote what the run started from.
    """
    return as_html(story.of(log, run_id))


def as_html(told: Story) -> str:
    """A story as one page of HTML."""
    measured, said = told.measures, Told(told.units)
    name = measured.recipe or "Mix without a recipe"
    head = page.title(measured).removeprefix(f"{name}, ")
    return "\n".join(
        [
            "<!doctype html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{_safe(page.title(measured))}</title>",
            f"<style>{_STYLE}</style></head><body>",
            f'<h1>{_safe(name)}</h1><p class="sub">{_safe(head)}</p>',
            *_list("What to do differently", do_differently(measured, said)),
            *_list("What held it back", held_back(measured)),
            *_figures(told),
            "<h2>In figures</h2>",
            _facts(told, said),
            "<h2>What happened</h2>",
            _moments(told),
            *_list("Forecasts", [text.strip() for text in page.forecasts(measured)]),
            *_list("What could not be said", page.not_said(measured)),
            f"<footer>{_safe(_footer(told))}</footer>",
            "</body></html>",
            "",
        ]
    )


def _footer(told: Story) -> str:
    measured = told.measures
    invented = " An invented run, of a virtual rig." if measured.virtual else ""
    return (
        f"Run {measured.run}, measured by rigmon {__version__} from its log. Ranges hold in eight "
        f"of ten cases. Times count from ice and salt, in the figures from the pour.{invented}"
    )


def _safe(text: str) -> str:
    """Text for HTML, whatever a maker called a mix or a rig."""
    return html.escape("".join(c if c.isprintable() else "�" for c in text))


def _list(heading: str, texts: Iterator[str] | list[str]) -> Iterator[str]:
    found = list(texts)
    if found:
        yield f"<h2>{_safe(heading)}</h2>"
        yield "<ul>" + "".join(f"<li>{_safe(text)}</li>" for text in found) + "</ul>"


def _facts(told: Story, said: Told) -> str:
    rows: list[tuple[str, list[str]]] = []
    for label, text in page.facts(told.measures, said):
        if label or not rows:
            rows.append((label, []))
        rows[-1][1].append(text)
    cells = (
        f"<tr><th>{_safe(label)}</th><td>{'<br>'.join(_safe(text) for text in texts)}</td></tr>"
        for label, texts in rows
    )
    return f"<table>{''.join(cells)}</table>"


def _moments(told: Story) -> str:
    cells = (
        f'<tr class="{one.kind}"><td class="t">{_safe(story.when(one.at_s))}</td>'
        f"<td>{_safe(one.text)}</td></tr>"
        for one in told.moments
    )
    return f"<table>{''.join(cells)}</table>"


def _figures(told: Story) -> Iterator[str]:
    drawing = Drawing(told)
    for name, draws in drawing.panels():
        with looks():
            figure = Figure(figsize=(_WIDE_INCH, _HIGH_INCH), layout="constrained")
            for place, draw in enumerate(draws):
                draw(figure.add_subplot(1, len(draws), place + 1))
            text = io.StringIO()
            figure.savefig(text, format="svg", metadata={"Date": None})
        svg = text.getvalue()
        yield (f'<figure role="img" aria-label="{_safe(name)}">{svg[svg.index("<svg") :]}</figure>')


def write(told: Story, out: Path) -> None:
    """Write a story's report.

    Args:
        told: the story.
        out: the file; its suffix, .html, .pdf or .png, says the form.

    Raises:
        OSError: it cannot be written.
    """
    form = out.suffix.lower()
    if form == ".html":
        out.write_text(as_html(told), encoding="utf-8")
        return
    with looks():
        if form == ".png":
            _sheet(told).savefig(out, format="png", dpi=_DPI)
            return
        with PdfPages(out, metadata={"CreationDate": None}) as pages:
            pages.savefig(_sheet(told))
            for text in _pages_of_words(told):
                pages.savefig(text)


def _sheet(told: Story) -> Figure:
    """All figures on one page."""
    drawing = Drawing(told)
    panels = drawing.panels()
    figure = Figure(figsize=_A4_INCH)
    grid = figure.add_gridspec(
        max(len(panels), 1), 1, left=0.09, right=0.93, top=0.885, bottom=0.05, hspace=0.52,
        height_ratios=[1.35 if len(draws) == 1 else 1.0 for _, draws in panels] or [1.0],
    )  # fmt: skip
    measured = told.measures
    name = textwrap.shorten(measured.recipe or "Mix without a recipe", 60, placeholder=" …")
    figure.text(0.09, 0.965, name, fontsize=14, fontweight="bold", va="center")
    head = page.title(measured).removeprefix(f"{measured.recipe}, ")
    figure.text(0.09, 0.945, textwrap.shorten(head, 90, placeholder=" …"), va="center")
    figure.text(0.09, 0.926, _in_short(told), va="center")
    for row, (_, draws) in enumerate(panels):
        cells = grid[row].subgridspec(1, len(draws), wspace=0.28)
        for place, draw in enumerate(draws):
            draw(figure.add_subplot(cells[place]))
    return figure


def _in_short(told: Story) -> str:
    facts = dict.fromkeys(("Bath", "Round 1"), "")
    for label, text in page.facts(told.measures, Told(told.units)):
        if label in facts:
            facts[label] = text
    return "; ".join(text for text in facts.values() if text)


def _pages_of_words(told: Story) -> Iterator[Figure]:
    """What a terminal would show, on pages."""
    rows: list[tuple[str, str]] = list(page.lines(told))
    per_page = 62
    for first in range(0, len(rows), per_page):
        figure = Figure(figsize=_A4_INCH)
        for place, (label, text) in enumerate(rows[first : first + per_page]):
            y = 0.96 - 0.0148 * place
            bold = "bold" if not label and first + place == 0 else "normal"
            figure.text(0.08, y, label, fontsize=8.5, fontweight="bold", va="top")
            figure.text(0.20, y, text, fontsize=8.5, fontweight=bold, va="top")
        yield figure
