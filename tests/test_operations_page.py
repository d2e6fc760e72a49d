"""docs/operations.md stays true: every kind of alarm is on it, its examples are valid, its broker lets in and keeps out.

Outside references: Mosquitto itself runs the broker's files; systemd's own checker reads the units where there is one; tomllib.
"""

from __future__ import annotations

import ast
import re
import shutil
import socket
import ssl
import subprocess
import threading
import tomllib
from collections.abc import Iterator
from pathlib import Path

import paho.mqtt.client as paho
import pytest

from booth.alarms.watching import PAPERS
from booth.judge.health.faults import WORDS as FAULTS
from booth.readers.mqtt import Broker, MqttReader
from booth.readers.retained import retained_topics
from booth.shop.requirement import KINDS
from booth.shop.shop import load_shop, read_files
from tests.readers.certificates import Authority

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs" / "operations.md").read_text(encoding="utf-8")
SBIN = "/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin"


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)


def rows() -> Iterator[list[str]]:
    """The cells of every row of a table."""
    for line in PAGE.splitlines():
        if line.startswith("| ") and not line.startswith("| ---"):
            yield [cell.strip() for cell in line.strip("|").split("|")]


# Alarms


def alarms_on_the_page() -> set[str]:
    return {word for row in rows() for word in re.findall(r"`(\w+)`", row[0])}


def requirements_written_in_the_code() -> set[str]:
    """Every constant that the program gives a Condition as its `requirement`."""
    found = set()
    for path in (ROOT / "booth").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("Condition", "_fault"):
                given = [one.value for one in node.keywords if one.arg == "requirement"] or node.args[2:3]
                found |= {one.value for one in given if isinstance(one, ast.Constant)}
    return found


def test_constants_are_found_in_the_code() -> None:
    assert {"airflow", "job"} <= requirements_written_in_the_code()


def test_every_kind_of_alarm_says_what_it_means_and_who_acts() -> None:
    announced = {*KINDS, *FAULTS, *requirements_written_in_the_code()} - set(PAPERS)
    assert announced - alarms_on_the_page() == set()
    assert all(len(row) == 3 and all(row) for row in rows() if set(re.findall(r"`(\w+)`", row[0])) & announced)


def test_what_is_not_announced_is_said_to_be_so() -> None:
    sentence = next(line for line in PAGE.splitlines() if line.startswith("Not announced"))
    assert set(re.findall(r"`(\w+)`", sentence)) == set(PAPERS)


def test_what_the_logger_itself_says_is_what_the_page_quotes() -> None:
    """The beginnings of sentences, as they stand in the program."""
    code = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "booth").rglob("*.py"))
    begins = PAGE.index("| sentence begins |")
    quoted = [line.split("|")[1].strip() for line in PAGE[begins:].split("\n\n")[0].splitlines()[2:]]
    parts = [part for cell in quoted for part in re.split(r", | … ", cell)]
    assert len(parts) >= 8
    assert [part for part in parts if part not in code] == []


# Disk


def test_the_sizing_table_follows_from_the_measured_bytes() -> None:
    measured = re.search(r"([\d.]+) bytes for each sealed.*?, (\d+) bytes for\none that is not sealed", PAGE)
    sealed, hot = map(float, measured.groups())
    sizes = [row for row in rows() if len(row) == 6 and row[0].isdigit()]
    assert len(sizes) >= 5
    for row in sizes:
        booths, points, rate, *written = map(float, row)
        readings = booths * points * rate
        year = readings * 365 * 86_400 * sealed / 1e9
        assert written == pytest.approx([readings * 49 * 3600 * hot / 1e9, year, 10 * year], abs=0.051)


# Examples


@pytest.mark.parametrize("snippet", blocks("toml"))
def test_a_snippet_of_site_toml_is_a_configuration(snippet: str) -> None:
    files = read_files(ROOT / "config")
    tables = tomllib.loads(snippet)
    for name in tables:
        assert f"\n[{name}]\n" in files["site.toml"]
        files["site.toml"] = re.sub(rf"\n\[{name}\]\n[^\[]*", "\n", files["site.toml"])
    files["site.toml"] += f"\n{snippet}"
    site = load_shop(files).site
    assert site.mqtt.client_id == tables["mqtt"]["client_id"] and site.mqtt.host == tables["mqtt"]["host"]


def test_commands_in_units_are_commands() -> None:
    started = re.findall(r"^ExecStart=.*?/booth (\w+)", "\n".join(blocks("ini")), re.MULTILINE)
    assert sorted(started) == ["board", "run", "store"]


def test_systemd_takes_the_units(tmp_path: Path) -> None:
    """Everything but the paths, which this machine doesn't have. Where systemd isn't, the units are read for their sections."""
    units = blocks("ini")
    assert [re.findall(r"^\[(\w+)\]", unit, re.MULTILINE) for unit in units] == [
        ["Unit", "Service", "Install"],
        ["Unit", "Service", "Install"],
        ["Unit", "Service"],
        ["Unit", "Timer", "Install"],
    ]
    checker = shutil.which("systemd-analyze")
    if checker is None:
        return
    names = ("booth.service", "booth-board.service", "booth-backup.service", "booth-backup.timer")
    for name, unit in zip(names, units, strict=True):
        (tmp_path / name).write_text(unit.replace("/opt/booth/.venv/bin/booth", "/bin/true"), encoding="utf-8")
    done = subprocess.run([checker, "verify", *(tmp_path / name for name in names)], capture_output=True, text=True)
    about_a_line = re.compile(rf"{tmp_path}/[\w.-]+:\d+:")
    assert [line for line in done.stderr.splitlines() if about_a_line.search(line)] == []


# The broker


class PageBroker:
    """Mosquitto with the page's own files; only paths, ports and, where it runs as root, its user are others."""

    def __init__(self, folder: Path) -> None:
        program, passwords = (shutil.which(name, path=SBIN) for name in ("mosquitto", "mosquitto_passwd"))
        assert program and passwords, "there is no Mosquitto; install Debian's package: run 'make setup'"
        authority = Authority(folder, "authority")
        signed = authority.sign("broker", "subjectAltName=IP:127.0.0.1")
        self.ca, self.port, self.tls_port = authority.cert, *_free_ports()
        (configuration,), (acl,) = blocks("conf"), blocks("acl")
        (folder / "acl").write_text(acl, encoding="utf-8")
        (folder / "passwords").touch(mode=0o600)
        for user in set(re.findall(r"^user (.+)$", acl, re.MULTILINE)):
            subprocess.run([passwords, "-b", folder / "passwords", user, f"{user}-secret"], check=True, capture_output=True)
        for written, here in {
            "/var/lib/mosquitto/": f"{folder}/",
            "/etc/mosquitto/booth-passwords": f"{folder}/passwords",
            "/etc/mosquitto/booth-acl": f"{folder}/acl",
            "/etc/mosquitto/certs/ca.pem": str(authority.cert),
            "/etc/mosquitto/certs/broker.pem": str(signed.cert),
            "/etc/mosquitto/certs/broker.key": str(signed.key),
            "listener 1883 127.0.0.1": f"listener {self.port} 127.0.0.1",
            "listener 8883": f"listener {self.tls_port} 127.0.0.1",
        }.items():
            assert written in configuration
            configuration = configuration.replace(written, here)
        (folder / "mosquitto.conf").write_text(f"{configuration}\nuser root\n", encoding="utf-8")
        self.process = subprocess.Popen([program, "-c", folder / "mosquitto.conf"], stderr=subprocess.PIPE, text=True)

    def wait(self) -> None:
        for _ in range(200):
            if self.process.poll() is not None:
                raise AssertionError(f"Mosquitto refuses the page's configuration: {self.process.stderr.read()}")
            try:
                socket.create_connection(("127.0.0.1", self.tls_port), timeout=1).close()
                return
            except OSError:
                threading.Event().wait(0.05)
        raise AssertionError("Mosquitto did not start")

    def client(self, user: str) -> paho.Client:
        """Connected over TLS as one of the page's users."""
        client = paho.Client(paho.CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        client.username_pw_set(user, f"{user}-secret")
        client.tls_set(str(self.ca), tls_version=ssl.PROTOCOL_TLS_CLIENT)
        client.connect("127.0.0.1", self.tls_port)
        client.loop_start()
        return client

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(10)
        self.process.stderr.close()


def _free_ports() -> tuple[int, int]:
    with socket.socket() as one, socket.socket() as other:
        one.bind(("127.0.0.1", 0))
        other.bind(("127.0.0.1", 0))
        return one.getsockname()[1], other.getsockname()[1]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[PageBroker]:
    one = PageBroker(tmp_path)
    try:
        one.wait()
        yield one
    finally:
        one.stop()


def answer(client: paho.Client, topic: str) -> str:
    """What the broker says to a message (MQTT 5 reason code)."""
    got: list[str] = []
    came = threading.Event()
    client.on_publish = lambda _client, _data, _mid, reason, _properties: (got.append(str(reason)), came.set())
    client.publish(topic, b"21.4", qos=1)
    assert came.wait(10), f"no answer to {topic}"
    return got[0]


def test_the_brokers_files_let_in_and_keep_out_as_they_say(broker: PageBroker) -> None:
    here = Broker("127.0.0.1", broker.port, username="logger", password="logger-secret")
    reader = MqttReader(here, "shop-booth-logger", ["shop/+/+"], lambda: 1)
    reader.start()
    clients = {user: broker.client(user) for user in ("north-instruments", "north-panel", "screen")}
    try:
        assert reader.wait_connected(10)
        expected = {
            ("north-instruments", "shop/north/air-temperature"): True,
            ("north-instruments", "shop/north/event"): False,
            ("north-instruments", "shop/north/beacon"): False,
            ("north-instruments", "shop/south/air-temperature"): False,
            ("north-instruments", "shop/north/alarm/x"): False,
            ("north-panel", "shop/north/event"): True,
            ("north-panel", "shop/north/air-temperature"): False,
            ("screen", "shop/north/event"): False,
        }
        said = {key: answer(clients[key[0]], key[1]) for key in expected}
        assert {key for key, reason in said.items() if reason == "Not authorized"} == {
            key for key, allowed in expected.items() if not allowed
        }
        heard = {message.topic for message in (reader.get(5), reader.get(5))}
        assert heard == {"shop/north/air-temperature", "shop/north/event"}
        assert reader.get(0.2) is None
        reader.publish("shop/north/alarm/x", b"{}", retain=True)
        reader.publish("shop/north/beacon", b"{}", retain=True)
        assert retained_topics(here, "shop/+/alarm/+", timeout=10) == {"shop/north/alarm/x"}
    finally:
        reader.stop()
        for client in clients.values():
            client.disconnect()
            client.loop_stop()


def test_nobody_gets_in_without_a_password(broker: PageBroker) -> None:
    refused = threading.Event()
    client = paho.Client(paho.CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
    client.on_connect = lambda _client, _data, _flags, reason, _properties: reason.is_failure and refused.set()
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    assert refused.wait(10)
    client.loop_stop()
