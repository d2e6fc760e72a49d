"""A van's label: its number as a QR code (ISO/IEC 18004) for the scanner, and under it as text for people.

A scanner types what the code holds, so the code holds the number and nothing else.
"""

from __future__ import annotations

import json
from xml.sax.saxutils import escape

QUIET = 4  # modules of white around the code: ISO/IEC 18004 asks for four
SIDE_MM, TEXT_MM, GAP_MM = 44.0, 8.0, 6.0
COLUMNS, ROWS = 3, 4
LONGEST = 200  # characters, as in an event

_PAGES = """
#let data = json(bytes(sys.inputs.data))
#set document(title: data.vehicle, date: none)
#set page(paper: data.paper, margin: 12mm)
#set text(size: 13pt, weight: "bold")
#grid(columns: (1fr,) * data.columns, row-gutter: 8mm, ..range(data.copies).map(_ => align(center, block(breakable: false, {
  image(bytes(data.code), format: "svg", width: 44mm, alt: data.vehicle)
  block(width: 52mm, data.vehicle.clusters().join(sym.zws))
}))))
"""


class LabelError(ValueError):
    """A number that can't stand on a label; the text says what to write."""


def code_path(vehicle: str) -> tuple[int, str]:
    """Modules along a side, quiet zone included, and the SVG path of the dark ones. Raises LabelError."""
    import segno

    if not vehicle.strip() or len(vehicle) > LONGEST or not vehicle.isprintable():
        raise LabelError(f"{vehicle!r} can't be a van's number; write 1 to {LONGEST} characters that can be printed")
    code = segno.make(vehicle, micro=False, error="m")
    runs = []
    for y, row in enumerate(code.matrix, start=QUIET):
        start = None
        for x, dark in enumerate([*row, 0]):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                runs.append(f"M{start + QUIET} {y}h{x - start}v1h-{x - start}z")
                start = None
    return len(code.matrix) + 2 * QUIET, "".join(runs)


def code_svg(vehicle: str) -> str:
    """The code alone."""
    side, path = code_path(vehicle)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}">{_code(side, path)}</svg>'


def label_svg(vehicle: str, copies: int = 1) -> str:
    """A sheet of labels as SVG, sized in millimetres; one copy is a label alone. Raises LabelError."""
    side, path = code_path(vehicle)
    columns = min(copies, COLUMNS)
    rows = -(-copies // COLUMNS)
    width = columns * (SIDE_MM + GAP_MM) + GAP_MM
    height = rows * (SIDE_MM + TEXT_MM + GAP_MM) + GAP_MM
    labels = "".join(_label(vehicle, side, path, index % COLUMNS, index // COLUMNS) for index in range(copies))
    title = f"<title>{escape(vehicle)}</title>"
    view = f'width="{width:g}mm" height="{height:g}mm" viewBox="0 0 {width:g} {height:g}"'
    paper = f'<path fill="#fff" d="M0 0h{width:g}v{height:g}H0z"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {view}>{title}{paper}{labels}</svg>'


def label_pdf(vehicle: str, copies: int = COLUMNS * ROWS, paper: str = "a4") -> bytes:
    """Labels on pages of `a4` or `us-letter`. Raises LabelError."""
    import typst

    data = {"vehicle": vehicle, "copies": copies, "columns": COLUMNS, "paper": paper, "code": code_svg(vehicle)}
    return typst.compile(_PAGES.encode(), sys_inputs={"data": json.dumps(data)}, format="pdf", ignore_system_fonts=True)


def _code(side: int, path: str) -> str:
    return f'<path fill="#fff" d="M0 0h{side}v{side}H0z"/><path fill="#000" d="{path}"/>'


def _label(vehicle: str, side: int, path: str, column: int, row: int) -> str:
    x, y = GAP_MM + column * (SIDE_MM + GAP_MM), GAP_MM + row * (SIDE_MM + TEXT_MM + GAP_MM)
    scale = SIDE_MM / side
    size = min(TEXT_MM * 0.8, SIDE_MM / max(len(vehicle), 1) * 1.6)  # a long number stays inside its label
    middle = f'x="{x + SIDE_MM / 2:g}" y="{y + SIDE_MM + TEXT_MM * 0.7:g}"'
    fitted = f' textLength="{SIDE_MM:g}" lengthAdjust="spacingAndGlyphs"' if len(vehicle) > 10 else ""
    text = f'<text {middle} font-size="{size:.3g}" text-anchor="middle" font-family="sans-serif"{fitted}>{escape(vehicle)}</text>'
    return f'<g transform="translate({x:g} {y:g}) scale({scale:.5g})">{_code(side, path)}</g>{text}'
