"""What stands in the server: measurements, tags, fields, types and times, read back from a real influxd, as docs/mirror.md says.

Escaping is checked by reading back what was written ("Line protocol", InfluxDB's documentation).
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from booth.store import Reading, Store
from booth.times import HOUR
from tests.mirror.desk import SITE, START, Desk, alarm, fill, finding, reading
from tests.mirror.peers import Influxd

PAGE = Path(__file__).parents[2] / "docs/mirror.md"


def test_a_reading(desk: Desk, store: Store, influxd: Influxd) -> None:
    sent = Reading("north/air-temperature", START + 123_457, START + 200_000, "69.98", "degF", 21.1, 1)
    store.readings.append([sent, Reading("north/mode", START, START, "spray", "", 1.0, 1)])
    desk.run()
    temperature, mode = sorted(influxd.query("SELECT * FROM booth_reading"), key=lambda row: row["point"])
    assert temperature == {
        "time": 1_721_041_200_123_457_000,  # 2024-07-15T11:00:00.123457Z, by `date -d … +%s`
        "site": SITE,
        "booth": "north",
        "point": "air-temperature",
        "measure": "air_temperature",
        "unit": "degC",
        "value": 21.1,
        "sent": "69.98 degF",
        "quality": "good",
    }
    assert (mode["sent"], mode["value"], mode["measure"]) == ("spray", 1.0, None)  # a point that the shop doesn't know any more


def test_a_finding(desk: Desk, store: Store, influxd: Influxd) -> None:
    store.journal.append([finding("TV-0001")])
    desk.run()
    missed, met = sorted(influxd.query("SELECT * FROM booth_finding"), key=lambda row: -row["missed"])
    assert missed == {
        "time": START * 1000 + 1,
        "site": SITE,
        "booth": "north",
        "step": "clear-1",
        "requirement": "clear-1/air_temperature",
        "verdict": "missed",
        "vehicle": "TV-0001",
        "round": 1.0,
        "recorded": "2024-07-15T11:00:00.000Z",
        "missed": 1.0,
        "sentence": 'Made up, "quoted", = and so on.',
    }
    assert (met["verdict"], met["missed"], met["sentence"]) == ("met", 0.0, "Made up in two lines.")


def test_two_vans_of_one_load_do_not_overwrite_each_other(desk: Desk, store: Store, influxd: Influxd) -> None:
    store.journal.append([finding("TV-0001"), finding("TV-0002")])
    desk.run()
    rows = influxd.query("SELECT vehicle FROM booth_finding")
    assert sorted(row["vehicle"] for row in rows) == ["TV-0001"] * 2 + ["TV-0002"] * 2


def test_an_alarm_without_anybodys_name(desk: Desk, store: Store, influxd: Influxd) -> None:
    store.journal.append([alarm("TV-0001"), alarm("TV-0001", "normal", START + HOUR)])
    desk.run()
    raised, over = influxd.query("SELECT * FROM booth_alarm")
    assert raised == {
        "time": START * 1000 + 1,
        "site": SITE,
        "booth": "north",
        "step": "bake",
        "priority": "alarm",
        "state": "unacknowledged",
        "alarm": "TV-0001/1/bake/bake_start",
        "vehicle": "TV-0001",
        "cause": "appear",
        "sentence": "Made up: late.",
        "standing": 1.0,
    }
    assert (over["state"], over["standing"]) == ("normal", 0.0)
    assert "badge" not in str([raised, over])


def test_names_that_need_escaping(store: Store, desk: Desk, influxd: Influxd) -> None:
    site = 'Spänner, "A=2" \\ Söhne \\'
    desk.settings = replace(desk.settings, site=site)
    desk.restart()
    store.readings.append([reading("boöth 1, A=2/pt", START, 1.5)])
    desk.run()
    (row,) = influxd.query("SELECT * FROM booth_reading")
    assert (row["booth"], row["site"]) == ("boöth 1, A=2", site.replace("\\", "/"))


def test_every_number_is_a_float(desk: Desk, store: Store, influxd: Influxd) -> None:
    store.journal.append([finding("TV-0001"), alarm("TV-0001")])
    fill(store, range(2))
    desk.run()
    for measurement in ("booth_reading", "booth_finding", "booth_alarm"):
        types = {row["fieldType"] for row in influxd.query(f"SHOW FIELD KEYS FROM {measurement}")}
        assert types == {"float", "string"}


def test_the_page_names_all_of_it(desk: Desk, store: Store, influxd: Influxd) -> None:
    store.journal.append([finding("TV-0001"), alarm("TV-0001")])
    fill(store, range(2))
    store.readings.append([reading("north/humidity", START, value) for value in (40.0, 41.0)])
    desk.run()
    text = PAGE.read_text(encoding="utf-8")
    for measurement in ("booth_reading", "booth_finding", "booth_alarm"):
        section = re.search(rf"^## `{measurement}`.*?(?=^## )", text, re.MULTILINE | re.DOTALL)[0]
        documented = set(re.findall(r"^\| `([a-z_]+)`", section, re.MULTILINE))
        tags = {row["tagKey"] for row in influxd.query(f"SHOW TAG KEYS FROM {measurement}")}
        fields = {row["fieldKey"] for row in influxd.query(f"SHOW FIELD KEYS FROM {measurement}")}
        assert documented == tags | fields, measurement
