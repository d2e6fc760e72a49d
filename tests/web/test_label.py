"""Labels: the code is read back by a decoder of its own, and the number stands under it."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
import segno
from typer.testing import CliRunner

from booth.reports.labels import LabelError, code_path, code_svg, label_pdf, label_svg

HOSTILE = ['TV-4103"><script>alert(1)</script>', "TV & Söhne", "حافلة-٤١٠٣", "V" * 200]


def modules(vehicle: str) -> list[list[int]]:
    """The dark modules that the path draws."""
    side, path = code_path(vehicle)
    grid = [[0] * side for _ in range(side)]
    for x, y, run, back in re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", path):
        assert run == back
        for column in range(int(x), int(x) + int(run)):
            assert grid[int(y)][column] == 0
            grid[int(y)][column] = 1
    return grid


@pytest.mark.parametrize("vehicle", ["TV-4103", *HOSTILE])
def test_the_code_is_the_numbers_own_with_its_quiet_zone(vehicle: str) -> None:
    """ISO/IEC 18004: four light modules all around."""
    drawn = modules(vehicle)
    wanted = segno.make(vehicle, micro=False, error="m").matrix
    assert [row[4:-4] for row in drawn[4:-4]] == [list(row) for row in wanted]
    assert not any(any(row) for row in drawn[:4] + drawn[-4:])
    assert not any(row[column] for row in drawn for column in (0, 1, 2, 3, -1, -2, -3, -4))


@pytest.mark.parametrize("vehicle", HOSTILE)
def test_a_hostile_number_is_only_text(vehicle: str) -> None:
    from xml.etree import ElementTree

    root = ElementTree.fromstring(label_svg(vehicle, 2))
    assert {one.tag.split("}")[1] for one in root.iter()} <= {"svg", "title", "path", "g", "text"}
    assert [one.text for one in root.iter() if one.tag.endswith("text")] == [vehicle] * 2


def test_a_sheet_has_as_many_as_asked_for() -> None:
    assert label_svg("TV-4103", 12).count("<text ") == 12
    assert code_svg("TV-4103").startswith("<svg ")


def test_a_pdf_has_the_number_as_text() -> None:
    import pypdf

    pages = pypdf.PdfReader(io.BytesIO(label_pdf("TV-4103", 30))).pages
    assert len(pages) > 1
    assert "".join(page.extract_text().replace("\u200b", "") for page in pages).replace("\n", "").count("TV-4103") == 30


@pytest.mark.parametrize("vehicle", ["", "   ", "a\nb", "V" * 201])
def test_what_is_no_number_is_refused(vehicle: str) -> None:
    with pytest.raises(LabelError, match="can't be a van's number"):
        label_svg(vehicle)


def test_the_command(tmp_path: Path) -> None:
    from booth.cli.app import _register, app

    _register()
    runner = CliRunner()
    for name in ("one.svg", "one.pdf"):
        told = runner.invoke(app, ["label", "TV-4103", "--out", str(tmp_path / name), "--copies", "3"])
        assert told.exit_code == 0, told.output
    assert (tmp_path / "one.svg").read_text(encoding="utf-8").count("<text ") == 3
    assert (tmp_path / "one.pdf").read_bytes().startswith(b"%PDF")
    assert runner.invoke(app, ["label", "TV-4103", "--out", str(tmp_path / "one.png")]).exit_code != 0
