"""Elements of an SVG as text: well-formed whatever the data say, and drawn the same by browsers and by the PDF's typesetter."""

from __future__ import annotations

from html import escape

from booth.reports.words import clean

FONT = "Libertinus Serif"  # shipped inside the typesetter; a page's style sheet puts its own in its place
FONT_SIZE = 12.0
XMLNS = "http://www.w3.org/2000/svg"  # a name that is never fetched; inside HTML it may be left out, and is

# Seen in colour and in black and white: no two alike in shape, and the word always stands beside the mark.
MARK_COLOURS = {"met": "#1d5c2f", "missed": "#a3161f", "unproven": "#7a4700"}


def tag(name: str, *children: str, **attributes: object) -> str:
    """One element; `stroke_width=2` writes `stroke-width="2"`, `cls` writes `class`; None leaves an attribute out."""
    named = (("class" if key == "cls" else key.replace("_", "-"), value) for key, value in attributes.items())
    written = "".join(f' {key}="{escape(_plain(value))}"' for key, value in named if value is not None)
    return f"<{name}{written}>{''.join(children)}</{name}>" if children else f"<{name}{written}/>"


def _plain(value: object) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def text(x: float, y: float, words: str, **attributes: object) -> str:
    """A line of text with its baseline at y."""
    attributes = {"cls": "ink", "fill": "#1b1b1b"} | attributes
    return tag("text", escape(clean(words)), x=float(x), y=float(y), **attributes)


def line(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    return tag("line", x1=float(x1), y1=float(y1), x2=float(x2), y2=float(y2), **attributes)


def width_of(words: str, size: float = FONT_SIZE) -> float:
    """About how wide a text is, generous: sans faces of a browser are wider than the print's serif."""
    return len(words) * size * 0.56


def shorten(words: str, room: float, size: float = FONT_SIZE) -> str:
    """The text, cut with an ellipsis where it is wider than the room."""
    most = int(room / (size * 0.56))
    return words if len(words) <= most else words[: max(most - 1, 1)] + "…"


def drawing(width: float, height: float, name: str, description: str, *children: str) -> str:
    """A whole SVG with its title and description for those who hear it."""
    return tag(
        "svg",
        tag("title", escape(clean(name))),
        tag("desc", escape(clean(description))),
        *children,
        xmlns=XMLNS,
        viewBox=f"0 0 {_plain(float(width))} {_plain(float(height))}",
        role="img",
        font_family=FONT,
        font_size=FONT_SIZE,
    )


def verdict_shape(verdict: str, x: float, y: float, size: float) -> str:
    """The mark of a verdict centred on (x, y): a ring with a tick, a filled triangle, a diamond with a question."""
    colour, half = MARK_COLOURS[verdict], size / 2
    style = {"stroke": colour, "stroke_width": size / 9, "cls": f"mark {verdict}"}

    def path(*points: tuple[float, float], close: bool = False) -> str:
        joined = " L".join(f"{_plain(float(x + dx * half))} {_plain(float(y + dy * half))}" for dx, dy in points)
        return f"M{joined}{'Z' if close else ''}"

    if verdict == "met":
        tick = tag("path", d=path((-0.45, 0.05), (-0.1, 0.4), (0.48, -0.35)), fill="none", **style)
        return tag("circle", cx=float(x), cy=float(y), r=half * 0.88, fill="none", **style) + tick
    if verdict == "missed":
        return tag("path", d=path((0, -0.95), (0.95, 0.8), (-0.95, 0.8), close=True), **style | {"fill": colour})
    diamond = tag("path", d=path((0, -1), (1, 0), (0, 1), (-1, 0), close=True), fill="none", **style)
    hook = path((-0.25, -0.2), (-0.1, -0.42), (0.2, -0.4), (0.25, -0.12), (0, 0.08), (0, 0.22))
    dot = tag("circle", cx=float(x), cy=y + half * 0.48, r=size / 16, fill=colour, cls=f"mark-dot {verdict}")
    return diamond + tag("path", d=hook, fill="none", **style) + dot


def verdict_mark(verdict: str) -> str:
    """The mark as a picture of its own, for the side of a word."""
    return tag(
        "svg",
        verdict_shape(verdict, 9, 9, 16),
        xmlns=XMLNS,
        viewBox="0 0 18 18",
        width=18,
        height=18,
        aria_hidden="true",
    )
