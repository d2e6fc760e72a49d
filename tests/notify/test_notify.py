"""Alarms on the console, in the log, and as retained topics of a real Mosquitto."""

from __future__ import annotations

import io
import json
import logging
import time
from zoneinfo import ZoneInfo

import pytest

from booth.notify.console import ConsoleAlarms
from booth.notify.log import LogAlarms
from booth.notify.mqtt import MqttAlarms
from booth.readers.mqtt import Broker, MqttReader
from booth.readers.retained import retained_topics
from tests.broker import MosquittoBroker

TOPIC = "shop/south/alarm/TV-4103.1.bake.bake_start"
ALARM = {
    "alarm": "TV-4103/1/bake/bake_start",
    "booth": "south",
    "vehicle": "TV-4103",
    "step": "bake",
    "priority": "alarm",
    "state": "unacknowledged",
    "raised": "2026-07-13T16:02:30.000Z",
    "sentence": "The bake has not started;\nlatest was 11:02.",
    "what_to_do": "Start the bake and tell the supervisor — überfällig.",
}
LINE = (
    "ALARM south TV-4103 bake, unacknowledged: The bake has not started; latest was 11:02. "
    "Start the bake and tell the supervisor — überfällig."
)


def test_console_is_one_line_on_the_sites_clock() -> None:
    out = io.StringIO()
    ConsoleAlarms(ZoneInfo("America/Chicago"), out).alarm(TOPIC, ALARM)
    assert out.getvalue() == f"11:02:30 {LINE}\n"


def test_an_alarm_without_a_vehicle() -> None:
    out = io.StringIO()
    ConsoleAlarms(out=out).alarm(
        "shop/north/alarm/x", ALARM | {"booth": "north", "vehicle": None, "step": None, "what_to_do": ""}
    )
    assert out.getvalue().startswith("16:02:30 ALARM north, unacknowledged: The bake")


def test_a_closed_console_does_not_stop_the_logger(capsys: pytest.CaptureFixture[str]) -> None:
    out = io.StringIO()
    alarms = ConsoleAlarms(out=out)
    out.close()
    alarms.alarm(TOPIC, ALARM)
    alarms.alarm(TOPIC, ALARM)
    assert LINE in capsys.readouterr().out


@pytest.mark.parametrize(
    ("change", "level"),
    [
        ({}, logging.ERROR),
        ({"priority": "warning"}, logging.WARNING),
        ({"priority": "hazard"}, logging.CRITICAL),
        ({"state": "acknowledged"}, logging.INFO),
        ({"state": "normal"}, logging.INFO),
    ],
)
def test_log_has_one_line_for_each_change(caplog: pytest.LogCaptureFixture, change: dict, level: int) -> None:
    with caplog.at_level(logging.INFO, logger="booth.alarms"):
        LogAlarms().alarm(TOPIC, ALARM | change)
    (record,) = caplog.records
    assert record.levelno == level
    assert record.getMessage().startswith(f"{TOPIC} 16:02:30 ")
    assert "\n" not in record.getMessage()


def test_retained_alarms_are_published_and_cleared(mosquitto: MosquittoBroker) -> None:
    broker = Broker(mosquitto.host, mosquitto.port)
    screen = MqttReader(broker, "screen", ["shop/+/alarm/+"], lambda: time.time_ns() // 1000)
    logger = MqttReader(broker, "logger", ["shop/+/+"], lambda: time.time_ns() // 1000)
    alarms = MqttAlarms(logger.publish, lambda topic_filter: retained_topics(broker, topic_filter))
    logger.start()
    alarms.alarm(TOPIC, ALARM)
    _until_retained(broker, {TOPIC})
    screen.start()
    shown = screen.get(10)
    assert (shown.topic, shown.retained) == (TOPIC, True)
    assert json.loads(shown.payload) == ALARM
    alarms.alarm(TOPIC, ALARM | {"state": "acknowledged"})
    assert json.loads(screen.get(10).payload)["state"] == "acknowledged"
    alarms.alarm(TOPIC, ALARM | {"state": "normal"})
    assert screen.get(10).payload == b""
    _until_retained(broker, set())
    screen.stop()
    logger.stop()


def test_stale_alarms_are_cleared_after_a_restart(mosquitto: MosquittoBroker) -> None:
    """More of them than a broker sends at once, so that the end of the list must be found and not guessed."""
    broker = Broker(mosquitto.host, mosquitto.port)
    logger = MqttReader(broker, "logger", ["shop/+/+"], lambda: 0)
    alarms = MqttAlarms(logger.publish, lambda topic_filter: retained_topics(broker, topic_filter))
    logger.start()
    topics = {f"shop/north/alarm/TV-{number}" for number in range(100)}
    for topic in sorted(topics):
        alarms.alarm(topic, ALARM)
    logger.publish("shop/north/air-temperature", b"21.4", True)
    _until_retained(broker, topics)
    standing = {"shop/north/alarm/TV-7", "shop/north/alarm/TV-8", "shop/north/alarm/not-published-yet"}
    assert alarms.clear_stale(standing) == sorted(topics - standing)
    _until_retained(broker, topics & standing)
    assert retained_topics(broker, "shop/+/+") == {"shop/north/air-temperature"}
    logger.stop()


def test_a_silent_broker_is_said_to_be_one(mosquitto: MosquittoBroker) -> None:
    mosquitto.stop()
    with pytest.raises(TimeoutError, match=rf"broker at 127.0.0.1:{mosquitto.port} didn't list shop/\+/alarm/\+ within 0.5 s"):
        retained_topics(Broker(mosquitto.host, mosquitto.port), "shop/+/alarm/+", timeout=0.5)


def _until_retained(broker: Broker, topics: set[str]) -> None:
    deadline = time.monotonic() + 10
    while (kept := retained_topics(broker, "shop/+/alarm/+")) != topics:
        assert time.monotonic() < deadline, f"the broker keeps {sorted(kept)}"
        time.sleep(0.05)
