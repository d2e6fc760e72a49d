"""The periods of a ventilation log as CSV rows, one for each day and shift, for whoever reckons on in a spreadsheet."""

from __future__ import annotations

from typing import Any

from booth.reports.spreadsheet import rows_csv

MODES = ("spray", "flash", "purge", "bake", "cool", "idle", "fault")
FIGURES = ("mean", "lowest", "highest", "known_s", "unknown_s", "minimum", "maximum", "beyond_s", "beyond_share")
BALANCE = ("intake", "exhaust", "difference", "difference_uncertainty")
MEASURES = (("velocity", "m_s"), ("flow", "m3_s"), ("pressure", "pa"))


def ventilation_csv(log: dict[str, Any]) -> str:
    """One header row and one row for each period. Times RFC 3339 in UTC; empty is not known."""
    filters = list(dict.fromkeys(name for row in log["periods"] for name in row["filters"]))
    header = ["booth", "day", "shift", "from", "to", *(f"{mode}_s" for mode in MODES), "mode_unknown_s", "guns_on_s"]
    header += [_named(measure, figure, unit) for measure, unit in MEASURES for figure in FIGURES]
    header += [f"balance_{name}_m3_s" for name in BALANCE]
    header += ["grid_mean_m_s", "grid_lowest_m_s", "air_changes_per_h", *(f"filter_{name}_mean_pa" for name in filters)]
    return rows_csv(header, [_row(log["booth"], row, filters) for row in log["periods"]])


def _named(measure: str, figure: str, unit: str) -> str:
    return f"{measure}_{figure}" if figure.endswith(("_s", "share")) else f"{measure}_{figure}_{unit}"


def _row(booth: str, row: dict[str, Any], filters: list[str]) -> list[Any]:
    tied = row["grid_velocity"] or {}
    cells = [booth, row["day"], row["shift"], row["from"], row["to"]]
    cells += [row["modes_s"].get(mode) for mode in MODES] + [row["mode_unknown_s"], row["guns_on_s"]]
    for measure, _ in MEASURES:
        cells += [(row[measure] or {}).get(figure) for figure in FIGURES]
    cells += [(row["balance"] or {}).get(name) for name in BALANCE]
    drops = [(row["filters"].get(name) or {}).get("mean") for name in filters]
    return [*cells, tied.get("mean"), tied.get("lowest"), row["air_changes"], *drops]
