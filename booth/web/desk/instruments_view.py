"""Every instrument of the shop with what is known of it, and the logger itself: for maintenance, on Monday."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

from booth.instruments import SILENT, calibration_at, in_force, wrong_with
from booth.judge.ledger import Ledger
from booth.overview import newest_reading
from booth.shop.point import Point
from booth.shop.shop import Shop
from booth.store import Reading, Store
from booth.store.store import LOCK_FILE
from booth.times import DAY, duration_text
from booth.web.desk.booths_view import value_text

SOON = 30 * DAY
"""A calibration that ends within this is to be ordered now (common practice, no source)."""

QUARANTINE_SHOWN = 12


def instrument_rows(shop: Shop, store: Store, ledger: Ledger, as_of: int, units: str) -> list[dict[str, Any]]:
    """One row a point, those with something to say first. `says` is empty where nothing is wrong."""
    rows = []
    for booth_id, booth in shop.booths.items():
        for point_id, point in booth.points.items():
            name = f"{booth_id}/{point_id}"
            reading = newest_reading(store, name, as_of)
            value, usable = value_text(point, reading, as_of, units)
            calibration = _calibration(ledger, name, point, as_of)
            says = _says(wrong_with(ledger, name, point, reading, as_of), reading, calibration, as_of)
            rows.append(
                {
                    "booth": booth_id,
                    "booth_name": booth.name,
                    "point": point_id,
                    "instrument": point.instrument.name,
                    "type": point.instrument.type,
                    "value": value if usable else "",
                    "heard": None if reading is None else reading.time,
                    "says": says,
                    "calibration": calibration,
                }
            )
    return sorted(rows, key=lambda row: (not row["says"], row["calibration"]["state"] == "fine"))


def _says(wrong: list[str], reading: Reading | None, calibration: dict[str, Any], as_of: int) -> list[str]:
    """What somebody must do something about, in the order of how soon."""
    says = [f"silent for {duration_text(as_of - reading.time)}" if one == SILENT else one for one in wrong]
    if calibration["state"] == "soon":
        says.append(f"calibration ends in {-(-(calibration['until'] - as_of) // DAY)} days")
    return says


def _calibration(ledger: Ledger, name: str, point: Point, as_of: int) -> dict[str, Any]:
    """`state`: fine, soon, none (needed and not in force), unneeded."""
    newest = calibration_at(ledger, name, as_of)
    told = {"time": newest and newest.time, "until": newest and newest.valid_until, "result": newest and newest.result}
    told |= {"as_found": newest and newest.as_found, "as_left": newest and newest.as_left}
    if not point.instrument.calibrated:
        return told | {"state": "unneeded"}
    if not in_force(newest, as_of):
        return told | {"state": "none"}
    return told | {"state": "soon" if newest.valid_until - as_of < SOON else "fine"}


def machine(shop: Shop, store: Store, directory: Path, newest: int | None, stopped: int | None, as_of: int) -> dict[str, Any]:
    """The logger, its disk and its broker. `newest`: when a reading was last heard; `stopped`: when the logger said it stops."""
    disk = shutil.disk_usage(directory)
    process = _logger_process(directory)
    broker = f"{shop.site.mqtt.host}:{shop.site.mqtt.port}"
    return {
        "logger": f"running, process {process}" if process else "not running",
        "running": bool(process),
        "stopped": stopped,
        "newest": newest,
        "behind": None if newest is None else duration_text(max(0, as_of - newest)),
        "broker": broker,
        "store_mb": store.used_bytes() / 1e6,
        "free_gb": disk.free / 1e9,
        "free_share": disk.free / disk.total,
        "quarantine": store.quarantine.counts(),
        "recent": store.quarantine.recent(QUARANTINE_SHOWN),
        "lost": [str(one) for one in store.readings.lost],
    }


def _logger_process(directory: Path) -> int | None:
    """The process that wrote its number into the lock file and is still there; one that was killed left the number behind."""
    try:
        process = int((directory / LOCK_FILE).read_text("ascii"))
        os.kill(process, 0)
    except PermissionError:
        return process
    except (OSError, ValueError):
        return None
    return process
