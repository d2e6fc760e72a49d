"""What the styles say twice because CSS can't say it once, they say alike."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[2] / "booth/web/static"
WISHED = ':root:not([data-theme="light"])'
CHOSEN = ':root[data-theme="dark"]'


def declared(style: str, selector: str) -> dict[str, str]:
    block = style.split(f"{selector} {{", 1)[1].split("}", 1)[0]
    return dict(re.findall(r"(--[\w-]+):\s*([^;]+);", block))


@pytest.mark.parametrize("name", ["base.css", "desk.css"])
def test_dark_is_the_same_whoever_asked_for_it(name: str) -> None:
    style = (STATIC / name).read_text(encoding="utf-8")
    assert declared(style, WISHED) == declared(style, CHOSEN) != {}
