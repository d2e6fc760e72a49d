"""The token is asked for, kept from others, and kept out of sight."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from booth.mirror import settings_of
from booth.shop.problems import ConfigError
from booth.shop.shop import Shop
from booth.shop.site import Mirror
from tests.shop.demo_shop import files, problems, shop

TABLE = '\n[mirror]\nurl = "http://influx.shop.lan:8086"\norganization = "shop"\nbucket = "booths"\n'


def with_mirror(**more: str) -> Shop:
    plain = shop()
    mirror = Mirror(url="http://influx.shop.lan:8086/", organization="shop", bucket="booths", **more)
    return replace(plain, site=plain.site.model_copy(update={"mirror": mirror}))


def token_file(folder: Path, mode: int, text: str = "made-up\n") -> str:
    path = folder / "influx-token"
    path.write_text(text, encoding="utf-8")
    path.chmod(mode)
    return str(path)


def test_a_site_without_a_mirror() -> None:
    assert settings_of(shop()) is None


def test_the_table_is_read_from_the_site_file() -> None:
    texts = files()
    assert problems(texts | {"site.toml": texts["site.toml"] + TABLE}) == []
    (problem,) = problems(texts | {"site.toml": texts["site.toml"] + TABLE.replace("http://", "")})
    assert problem.startswith("site.toml: mirror.url: ") and '"https://influx.shop.lan:8086"' in problem


def test_token_from_a_file_of_its_owner(tmp_path: Path) -> None:
    found = settings_of(with_mirror(token_file=token_file(tmp_path, 0o600)))
    assert (found.token, found.url) == ("made-up", "http://influx.shop.lan:8086")
    assert "made-up" not in repr(found)
    assert found.points["north/air-temperature"] == {"measure": "air_temperature", "unit": "degC"}
    assert found.points["north/mode"] == {"measure": "mode", "unit": ""}


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o622, 0o777])
def test_token_file_that_others_can_open_is_refused(tmp_path: Path, mode: int) -> None:
    with pytest.raises(ConfigError, match="mirror.token_file: .*others than its owner.*chmod 600"):
        settings_of(with_mirror(token_file=token_file(tmp_path, mode)))


def test_token_file_missing_or_empty(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="No such file"):
        settings_of(with_mirror(token_file=str(tmp_path / "nowhere")))
    with pytest.raises(ConfigError, match="empty"):
        settings_of(with_mirror(token_file=token_file(tmp_path, 0o600, "\n")))


def test_token_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("BOOTH_INFLUX_TOKEN", raising=False)
    with pytest.raises(ConfigError, match="BOOTH_INFLUX_TOKEN"):
        settings_of(with_mirror())
    monkeypatch.setenv("BOOTH_INFLUX_TOKEN", "made-up")
    assert settings_of(with_mirror()).token == "made-up"
