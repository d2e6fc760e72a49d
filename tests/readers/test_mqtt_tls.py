"""TLS to a real Mosquitto, with an authority of the shop's own and certificates for both sides.

Whoever is let in by MQTT 5 section 4.13 and RFC 8446 section 4.4 is decided by Mosquitto and OpenSSL, not by us; what is ours is
that a mistake is told with the key of the configuration that is to be mended.
"""

from __future__ import annotations

import logging
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from certificates import Authority, Signed

from booth.readers.mqtt import Broker, MqttReader
from booth.secret_file import secret
from booth.shop.problems import ConfigError
from booth.shop.site import Mqtt
from booth.wiring import brokers
from tests.broker import MosquittoBroker

pytestmark = [  # paho leaves a socket whose handshake failed to the garbage collector
    pytest.mark.filterwarnings("ignore:unclosed <ssl:ResourceWarning"),
    pytest.mark.filterwarnings("ignore:Exception ignored in. <ssl:pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture(scope="module")
def ours(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("ours"), "shop")


@pytest.fixture(scope="module")
def strangers(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("strangers"), "stranger")


@pytest.fixture(scope="module")
def client(ours: Authority) -> Signed:
    return ours.sign("logger")


@pytest.fixture(scope="module")
def mosquitto(ours: Authority, tmp_path_factory: pytest.TempPathFactory) -> Iterator[MosquittoBroker]:
    """Lets in only who has a certificate that the shop's authority signed."""
    server = ours.sign("broker", "subjectAltName=IP:127.0.0.1")
    tls = f"cafile {ours.cert}\ncertfile {server.cert}\nkeyfile {server.key}\nrequire_certificate true\n"
    broker = MosquittoBroker(tmp_path_factory.mktemp("tls-broker"), tls).start()
    try:
        yield broker
    finally:
        broker.stop()


def outcome(broker: Broker) -> str:
    """Connected, or why not."""
    reader = MqttReader(broker, "logger", ["shop/+/+"], lambda: time.time_ns() // 1000, reconnect_max_s=1)
    reader.start()
    try:
        until(lambda: reader.connected or reader.problem is not None)
        return "connected" if reader.connected else reader.problem
    finally:
        reader.stop()


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not true() and time.monotonic() < deadline:
        time.sleep(0.02)
    assert true()


def configured(mosquitto: MosquittoBroker, ca: Path, signed: Signed | None) -> Broker:
    keys = {} if signed is None else {"cert_file": str(signed.cert), "key_file": str(signed.key)}
    return brokers(Mqtt(host=mosquitto.host, port=mosquitto.port, ca_file=str(ca), **keys))[""]


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_with_the_shop_s_authority_and_our_certificate(
    mosquitto: MosquittoBroker, ours: Authority, client: Signed, version: str
) -> None:
    site = Mqtt(
        host=mosquitto.host,
        port=mosquitto.port,
        version=version,
        ca_file=str(ours.cert),
        cert_file=str(client.cert),
        key_file=str(client.key),
    )
    assert outcome(brokers(site)[""]) == "connected"


def test_a_broker_that_another_authority_vouches_for(
    mosquitto: MosquittoBroker, strangers: Authority, client: Signed, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING)
    problem = outcome(configured(mosquitto, strangers.cert, client))
    assert "mqtt.ca_file doesn't vouch for the certificate of the broker at 127.0.0.1" in problem
    assert problem in caplog.messages


def test_a_broker_under_a_name_that_its_certificate_does_not_have(
    mosquitto: MosquittoBroker, ours: Authority, client: Signed
) -> None:
    site = Mqtt(
        host="localhost", port=mosquitto.port, ca_file=str(ours.cert), cert_file=str(client.cert), key_file=str(client.key)
    )
    assert "write mqtt.host as the certificate has it" in outcome(brokers(site)[""])


@pytest.mark.parametrize("whose", ["nobody", "stranger"])
def test_a_certificate_of_ours_that_the_broker_does_not_accept(
    mosquitto: MosquittoBroker, ours: Authority, strangers: Authority, whose: str
) -> None:
    signed = None if whose == "nobody" else strangers.sign("logger")
    problem = outcome(configured(mosquitto, ours.cert, signed))
    assert "mqtt.cert_file" in problem, problem


def test_a_port_without_tls(ours: Authority, client: Signed, tmp_path: Path) -> None:
    plain = MosquittoBroker(tmp_path).start()
    try:
        problem = outcome(configured(plain, ours.cert, client))
        assert "mqtt.port is its TLS port" in problem or "mqtt.cert_file" in problem, problem
    finally:
        plain.stop()


@pytest.mark.parametrize(
    ("keys", "key"),
    [
        ({"ca_file": "missing.pem"}, "mqtt.ca_file"),
        ({"ca_file": "garbage.pem"}, "mqtt.ca_file"),
        ({"cert_file": "garbage.pem", "key_file": "garbage.pem"}, "mqtt.cert_file"),
        ({"brokers": {"plc": {"host": "plc.shop.lan", "ca_file": "missing.pem"}}}, "mqtt.brokers.plc.ca_file"),
    ],
)
def test_a_file_that_is_no_certificate_is_told_at_the_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, keys: dict, key: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("garbage.pem").write_text("no certificate", encoding="utf-8")
    with pytest.raises(ConfigError, match=f"site.toml: {key}: a PEM file with"):
        brokers(Mqtt(**keys))


def test_a_key_that_belongs_to_another_certificate(ours: Authority, client: Signed) -> None:
    other = ours.sign("other")
    with pytest.raises(ConfigError, match=r"site.toml: mqtt.cert_file: .*key_file"):
        brokers(Mqtt(cert_file=str(client.cert), key_file=str(other.key)))


def test_a_key_with_a_passphrase_asks_nobody(client: Signed, tmp_path: Path) -> None:
    locked = tmp_path / "locked.key"
    command = ["openssl", "pkcs8", "-topk8", "-in", client.key, "-out", locked, "-passout", "pass:secret"]
    subprocess.run(command, check=True, capture_output=True)
    with pytest.raises(ConfigError, match="without a passphrase"):
        brokers(Mqtt(cert_file=str(client.cert), key_file=str(locked)))


def test_a_password_file_is_for_its_owner_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "mqtt-password"
    file.write_text("a secret\n", encoding="utf-8")
    file.chmod(0o600)
    assert brokers(Mqtt(username="logger", password_file=str(file)))[""].password == "a secret"
    for mode in (0o640, 0o604, 0o620):
        file.chmod(mode)
        with pytest.raises(ConfigError, match=r"mqtt.password_file: .* can be read by others than its owner") as refused:
            brokers(Mqtt(username="logger", password_file=str(file)))
        assert "a secret" not in str(refused.value)
    with pytest.raises(ConfigError, match="mqtt.password_file: a file that can be read"):
        brokers(Mqtt(username="logger", password_file=str(tmp_path / "missing")))
    empty = tmp_path / "empty"
    shutil.copy(file, empty)
    empty.write_text("\n", encoding="utf-8")
    empty.chmod(0o600)
    with pytest.raises(ConfigError, match="it holds the secret and nothing else"):
        brokers(Mqtt(username="logger", password_file=str(empty)))


def test_passwords_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    site = Mqtt(username="logger", brokers={"paint-plc": {"host": "plc.shop.lan", "username": "logger"}})
    monkeypatch.setenv("BOOTH_MQTT_PASSWORD", "first")
    monkeypatch.setenv("BOOTH_MQTT_PASSWORD_PAINT_PLC", "second")
    assert {name: one.password for name, one in brokers(site).items()} == {"": "first", "paint-plc": "second"}
    assert secret(None, "BOOTH_NO_SUCH_VARIABLE", "mqtt.password_file") is None
