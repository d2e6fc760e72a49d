"""Pictures of the board for docs/pictures/: `python -m tests.web.pictures` plays the demonstration and photographs its pages.

Wide and phone, light and dark. Kept small, since they live in the repository.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.web.demo_board import ARGS, CHROMIUM, board_over, opened, play_demo, serving, sign_in_by_hand

OUT = Path(__file__).parents[2] / "docs/pictures"
MOST_BYTES = 150_000
SIZES = {"wide": (1200, 740), "phone": (360, 740)}
SHOWN = {
    "booths": "/booths",
    "handover": "/handover",
    "records": "/records",
    "record": "/record/TV-4104",
    "ventilation": "/ventilation/south?from=2026-07-13&to=2026-07-13",
    "instruments": "/instruments",
}


def main() -> None:
    wanted = sys.argv[1:] or list(SHOWN)
    OUT.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        play_demo(Path(folder) / "demo")
        with serving(board_over(Path(folder) / "demo/store")) as served, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
            for size, (width, height) in SIZES.items():
                for scheme in ("light", "dark"):
                    view = {"width": width, "height": height}
                    context = browser.new_context(viewport=view, color_scheme=scheme, reduced_motion="reduce")
                    page = context.new_page()
                    sign_in_by_hand(page, served, "supervisor")
                    for name in wanted:
                        photograph(page, served, name, OUT / f"board-{name}-{size}-{scheme}.png")
                    context.close()
            browser.close()


def photograph(page, served, name: str, path: Path) -> None:
    opened(page, served, SHOWN[name])
    page.wait_for_timeout(500)
    if name == "record":  # its charts are what it is about
        page.evaluate("document.getElementById('traces').scrollIntoView()")
    page.screenshot(path=path)
    if path.stat().st_size > MOST_BYTES:
        raise SystemExit(f"{path.name} has {path.stat().st_size} bytes, more than {MOST_BYTES}: show less of the page")


if __name__ == "__main__":
    main()
