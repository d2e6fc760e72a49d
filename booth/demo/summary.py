"""The end of the demonstration: each van's verdict, the reason for each miss, and where the documents lie."""

from __future__ import annotations

from pathlib import Path

from booth.demo.shift import Shift


def print_summary(shift: Shift, out: Path) -> None:
    """80 columns, one block a van."""
    from rich.console import Console
    from rich.padding import Padding

    console = Console(highlight=False, soft_wrap=False)
    console.print()
    for vehicle, record in shift.records.items():
        console.print(
            f"{vehicle}  {record['verdict'].upper()}  {record['process']['name']}, {record['job']['outcome']}", style="bold"
        )
        for sentence in record["summary"]:
            console.print(Padding(sentence, (0, 0, 0, 4)))
    console.print(f"\n{shift.shop.site.name} is invented, and so is every value above.")
    console.print(f"Documents: {shift.documents}/ (pdf, html, json for each van)")
    console.print(f"Store:     {out / 'store'}   Configuration: {out / 'config'}   Hidden truth: {out / 'truth.json'}")
    console.print(f"Took {shift.seconds:.0f} s, at most {shift.peak_memory_mb:.0f} MB.")
    for caution in shift.shop.cautions:
        console.print(f"! {caution}", style="dim")
