"""Fills and strokes that stay apart without colour: each kind of step has its hatching, each line its dashes and its marker."""

from __future__ import annotations

from booth.reports.svg import tag

# (colour, dashes): the colours also differ in lightness.
LINE_STYLES = (
    ("#14508c", None),
    ("#a8410a", "7 3"),
    ("#2c6e49", "2.5 2.5"),
    ("#6b3fa0", "9 3 2 3"),
    ("#3d3d3d", "4 2"),
    ("#8a6500", "12 3"),
)

BAR = "#4d5b6b"
_HATCHES = {
    "flash": '<path d="M-2 2L2 -2M0 8L8 0M6 10L10 6" stroke="#4d5b6b" stroke-width="1.2" class="hatch"/>',
    "purge": '<path d="M2 2h1.6v1.6h-1.6zM6 6h1.6v1.6h-1.6z" fill="#4d5b6b" class="solid"/>',
    "bake": '<path d="M0 0L8 8M8 0L0 8" stroke="#4d5b6b" stroke-width="1.2" class="hatch"/>',
    "cool": '<path d="M0 2H8M0 6H8" stroke="#4d5b6b" stroke-width="1" class="hatch"/>',
    "missed": '<path d="M-2 2L2 -2M0 8L8 0M6 10L10 6" stroke="#a3161f" stroke-width="1.6" class="mark missed"/>',
    "unproven": '<path d="M-2 6L2 10M0 0L8 8M6 -2L10 2" stroke="#7a4700" stroke-width="1.2" class="mark unproven"/>',
    "met": '<path d="M0 4H8" stroke="#1d5c2f" stroke-width="1" class="mark met"/>',
    "beyond": '<path d="M-2 2L2 -2M0 8L8 0M6 10L10 6" stroke="#1b1b1b" stroke-width=".7" class="rule"/>',
}


def definitions(prefix: str) -> str:
    """The hatchings; `prefix` keeps the ids of two charts on one page apart."""
    return tag(
        "defs",
        *(
            tag("pattern", body, id=f"{prefix}-{name}", width=8, height=8, patternUnits="userSpaceOnUse")
            for name, body in _HATCHES.items()
        ),
    )


def fill(prefix: str, name: str) -> str:
    """How to paint with a hatching; a coat is solid, and a kind without a hatching stays empty between its edges."""
    if name == "coat":
        return BAR
    return f"url(#{prefix}-{name})" if name in _HATCHES else "none"


def marker(style: int, x: float, y: float) -> str:
    """The small shape that tells a line from the others: disc, square, triangle, diamond, cross, plus."""
    shapes = (
        "m-2.6 0a2.6 2.6 0 1 0 5.2 0a2.6 2.6 0 1 0 -5.2 0z",
        "m-2.4 -2.4h4.8v4.8h-4.8z",
        "m0 -3.2l3 5.4h-6z",
        "m0 -3.4l3.4 3.4l-3.4 3.4l-3.4 -3.4z",
        "m-2.6 -2.6l5.2 5.2m0 -5.2l-5.2 5.2",
        "m-3.2 0h6.4m-3.2 -3.2v6.4",
    )
    index = style % len(shapes)
    colour = LINE_STYLES[index][0]
    filled = colour if index < 4 else "none"
    return tag("path", d=f"M{x:.1f} {y:.1f}{shapes[index]}", fill=filled, stroke=colour, stroke_width=1.2, cls=f"marker l{index}")
