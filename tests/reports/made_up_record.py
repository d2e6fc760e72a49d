"""A made-up record with everything a document must be able to say. The site, the vans, the badges and the readings are invented."""

# ruff: noqa: E501  one fact a line reads better here than one argument a line

from __future__ import annotations

import hashlib

import numpy as np

from booth.reports.traces import Band, LimitSpan, Line, Mark, Panel, Traces
from booth.times import MINUTE, SECOND, parse_time

VAN = "TV-4109"


def at(clock: str) -> str:
    """A local time of the record's day (UTC−5) as RFC 3339 in UTC."""
    hour, _, rest = clock.partition(":")
    return f"2026-07-13T{int(hour) + 5:02d}:{rest}{':00' if ':' not in rest else ''}.000Z"


def us(clock: str) -> int:
    return parse_time(at(clock))


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def finding(step: str, name: str, start: str, end: str, sentence: str, **changes: object) -> dict:
    return {
        "requirement": name, "kind": "climate", "step": step, "zone": None, "verdict": "met", "final": True, "sentence": sentence,
        "quantity": "temperature", "low": None, "high": None, "source": "invented sheet, rev. 3, p. 2", "observed": None,
        "margin": None, "unit": "°C", "uncertainty": None, "probability": None, "start": at(start), "end": at(end), "span_source": "entered",
        "coverage": 1.0, "largest_gap_s": 5.0, "excursions": [], "window": None, "evidence_sha256": sha(f"{step} {name}"),
        "limit_text": "", "observed_text": "", "as_issued": None, "remedied_by": None, "concession": None,
    } | changes  # fmt: skip


def climate(step: str, start: str, end: str, **humidity: object) -> list[dict]:
    return [
        finding(step, "air temperature", start, end, f"In {step} the air stayed between 22.9 °C and 24.1 °C.", low=20.0, high=32.0,
                observed=22.9, margin=2.9, uncertainty=0.6, source="invented data sheet for the coating, rev. 3, p. 2"),
        finding(step, "humidity", start, end, **{
                "sentence": f"In {step} the humidity rose to 61 %, below the limit.", "quantity": "humidity", "high": 75.0, "observed": 61.0, "margin": 14.0, "unit": "%", "uncertainty": 2.0, "probability": 1.0, **humidity}),
        finding(step, "dew-point margin", start, end, f"In {step} the coldest part stayed 6.2 K above the dew point.",
                quantity="temperature_difference", low=3.0, observed=6.2, margin=3.2, unit="K", uncertainty=0.9,
                source="ISO 8502-4; shop rule SR-7"),
        finding(step, "air velocity", start, end, f"In {step} the air moved at 0.47 m/s or faster.", quantity="velocity",
                low=0.4, observed=0.47, margin=0.07, unit="m/s", uncertainty=0.03, source="shop rule SR-2"),
    ]  # fmt: skip


def step(name: str, kind: str, start: str | None, end: str | None, findings: list[dict], **changes: object) -> dict:
    return {
        "step": name, "kind": kind, "coating": None, "booth": "south", "start": start and at(start), "end": end and at(end),
        "source": "entered", "mix": None, "zones": [], "holds": [], "by": "badge-22", "findings": findings,
    } | changes  # fmt: skip


QUIET = dict(
    verdict="unproven", observed=58.0, margin=None, coverage=0.7271, largest_gap_s=374.0,
    sentence="In clear-1 the humidity is unproven: nothing was measured from 10:33:20 to 10:39:34 (6 min 14 s), and it can have risen above 75 %.",
)  # fmt: skip

LATE = finding(
    "bake", "bake start", "11:24", "11:38:10", "The bake began 14 min 10 s late: 44 min 10 s after the last coat, at the latest 30 min were allowed.",
    kind="bake-start", verdict="missed", quantity="duration", low=600.0, high=1800.0, observed=2650.0, margin=-850.0, unit="s",
    coverage=None, largest_gap_s=0.0, window={"earliest": at("11:04"), "latest": at("11:24")}, limit_text="10 min to 30 min after the last coat",
    observed_text="44 min 10 s", source="invented data sheet two-pack-clear, rev. 5, p. 4", concession=0, evidence_sha256="",
)  # fmt: skip


def steps() -> list[dict]:
    two_pack = {"coating": "two-pack-clear", "mix": "M-31"}
    return [
        step("water-test", "check", "06:20", "06:41", [finding("water-test", "water test", "06:20", "06:41",
             "The water test passed at 32 US gal/min after its last repair.", quantity="liquid_flow", low=113.6, observed=121.1, margin=7.5,
             unit="L/min", source="common practice, no source", coverage=None)], by="badge-31", booth=None),
        step("sealer", "coat", "08:10", "08:24:30", climate("sealer", "08:10", "08:24:30"), coating="epoxy-sealer", mix="M-29",
             zones=[{"zone": "lower", "substrate": "fibreglass", "start": at("08:10"), "end": at("08:20")},
                    {"zone": "sills", "substrate": "steel", "start": at("08:18"), "end": at("08:24:30")}]),
        step("sealer-flash", "flash", "08:24:30", "08:50", [finding("sealer-flash", "flash time", "08:24:30", "08:50",
             "The sealer flashed 25 min 30 s at 23.4 °C on the part; 17 min 20 s were needed.", zone="sills", quantity="duration", low=1040.0,
             high=4500.0, observed=1530.0, margin=490.0, unit="s", limit_text="by part temperature: 15 °C 30 min, 20 °C 20 min, 30 °C 12 min; at most 75 min",
             window={"earliest": at("08:41:50"), "latest": at("09:25")}, span_source="derived")], source="derived", by=None),
        step("base-1", "coat", "08:50", "09:04", climate("base-1", "08:50", "09:04"), coating="waterborne-base", mix="M-30",
             holds=[{"start": at("08:55"), "end": at("08:56:10")}]),
        step("clear-1", "coat", "10:28", "10:42", climate("clear-1", "10:28", "10:42", **QUIET), **two_pack),
        step("clear-2", "coat", "10:52", "10:54", [*(f | {"span_source": "inferred"} for f in climate("clear-2", "10:52", "10:54")),
             finding("clear-2", "pot life", "09:50", "10:54", "The mix was used up 64 min after mixing; at 22.6 °C it lasts 83 min.",
                     quantity="duration", high=4980.0, observed=3840.0, margin=1140.0, unit="s", as_issued={
                         "verdict": "unproven", "sentence": "The pot’s temperature was not known when the coat ended.", "recorded": at("10:54:30")})],
             source="inferred", by=None, **two_pack),
        step("purge", "purge", "11:24", "11:38:10", [finding("purge", "purge flow", "11:24", "11:38:10",
             "The flow recorded equals 96.4 volumes of the booth.", quantity="volumes", low=4.0, observed=96.4, margin=92.4, unit="volumes")],
             source="signalled", by=None),
        step("bake", "bake", "11:38:10", "12:40", [LATE, finding("bake", "bake dwell", "12:02", "12:40",
             "The coldest part was at or above 60 °C for 38 min; at its temperatures 24 min 10 s were needed.", zone="sills", quantity="duration",
             low=1450.0, observed=2280.0, margin=830.0, unit="s"), finding("bake", "peak temperature", "11:38:10", "12:40",
             "The fibreglass reached 71.8 °C at the hottest.", zone="lower", high=82.0, observed=71.8, margin=10.2, uncertainty=1.0),
             finding("bake", "heating rate", "11:38:10", "12:40", "The part warmed by 5.4 K/min at the fastest for 40 s, within the grace of 60 s.",
                     quantity="heating_rate", high=5.0, observed=5.4, margin=-0.4, unit="K/min",
                     excursions=[{"start": at("11:44:20"), "end": at("11:45"), "worst": 5.4, "seconds": 40.0}])],
             source="signalled", by=None),
        step("cool", "cool", "12:40", "13:02", [finding("cool", "cool-down", "12:40", "13:02", "The part was below 40 °C when it left the booth.",
             high=40.0, observed=33.1, margin=6.9)], source="signalled", by=None),
    ]  # fmt: skip


def record() -> dict:
    """A job with one miss, one unproven humidity, an inferred coat, a concession, a correction and a name taken out."""
    gate = finding("", "gates before the first coat", "06:20", "08:10", "Water test, wash, sanding and masking had passed before the first coat.",
                   quantity="number", unit="", coverage=None, limit_text="passed", observed_text="passed", evidence_sha256="")  # fmt: skip
    return {
        "vehicle": VAN, "issued": at("14:12:30"),
        "site": {"name": "Tern Valley Mobile Clinics", "invented": True, "time_zone": "America/Chicago"},
        "job": {"process": "standard-2026", "body": "standard", "opened": at("06:05"), "closed": at("13:20"), "state": "closed",
                "outcome": "released with concession"},
        "verdict": "missed", "summary": [LATE["sentence"], QUIET["sentence"]],
        "rounds": [{"round": 1, "reason": None, "opened": at("06:05"), "closed": at("13:20"), "verdict": "missed",
                    "outcome": "released with concession", "findings": [gate], "steps": steps()}],
        "checks": [
            {"check": "water-test", "result": "failed", "time": at("06:22"), "by": "badge-31", "values": {"flow": "32 gallon/min"}},
            {"check": "water-test", "result": "repaired", "time": at("06:30"), "by": "badge-31", "values": {}},
            {"check": "water-test", "result": "passed", "time": at("06:41"), "by": "badge-31", "values": {"flow": "32 gallon/min"}},
            {"check": "mask", "result": "passed", "time": at("07:50"), "by": None, "values": {}}],
        "lots": [{"coating": "two-pack-clear", "component": "hardener", "lot": "H-2207", "mix": "M-31", "steps": ["clear-1", "clear-2"]},
                 {"coating": "two-pack-clear", "component": "resin", "lot": "R-1180", "mix": "M-31", "steps": ["clear-1", "clear-2"]}],
        "mixes": [{"mix": "M-31", "coating": "two-pack-clear", "time": at("09:50"), "by": "badge-22", "pot": "pot-1",
                   "lots": {"resin": "R-1180", "hardener": "H-2207"}}],
        "film": [{"step": "clear-2", "zone": "sills", "value": "62 um", "gauge": "gauge-2", "time": at("13:10"), "by": "badge-22"}],
        "alarms": [{"alarm": "a-17", "priority": "high", "requirement": "bake start", "step": "bake", "sentence": "The bake window of TV-4109 closed at 11:24.",
                    "raised": at("11:24"), "acknowledged": at("11:31:12"), "acknowledged_by": "badge-22", "returned": at("11:38:10"), "state": "normal"}],
        "concessions": [{"requirement": "bake start", "reason": "Adhesion test on the witness panel passed.", "by": "badge-03", "time": at("13:15")}],
        "corrections": [{"corrects": "0b6c1b1e-6a43-4d0e-9a30-5f2a6f1f7a11", "what": "end of base-1", "set": {"time": at("09:04")},
                         "reason": "The button was pressed after the tea break.", "by": None, "time": at("09:31")}],
        "releases": [{"reason": "", "by": "badge-03", "time": at("13:20")}],
        "notes": [{"text": "Zażółć: bay door opened twice while masking.", "by": "badge-31", "time": at("07:40")}],
        "instruments": [
            {"point": "south/humidity", "name": "Probe S-2", "type": "capacitive humidity probe", "expanded_uncertainty": "2 %",
             "calibration": {"time": "2026-03-02T15:00:00Z", "result": "passed", "valid_until": "2027-03-02"}},
            {"point": "south/part-2", "name": "Contact probe 5", "type": "thermocouple", "expanded_uncertainty": 0.5, "calibration": None}],
        "process": {"id": "standard-2026", "name": "Standard body, wet on wet", "version": "4", "sha256": sha("process"),
                    "decision_rule": "guarded", "not_stated": ["No source states what a break in the waterborne flash does; the supervisor decides."]},
        "config": {"sha256": sha("config")}, "journal": {"head": sha("head"), "entries": 412, "verified": True},
        "cautions": ["This is a record-keeping aid: not a safety interlock, a gas detector or a respirator programme.",
                     "Sprayed isocyanates and solvents harm; local regulations, the safety data sheets and licensed practice decide."],
        "software": {"name": "booth-logger", "version": "0.1.0"},
    }  # fmt: skip


def line(label: str, shape, max_age: int = 30 * SECOND, start: str = "06:05", end: str = "13:20") -> Line:
    """A line every 5 s; `shape` takes minutes since 06:05 as an array."""
    times = np.arange(us(start), us(end), 5 * SECOND)
    return Line(label, times, np.round(shape((times - us("06:05")) / MINUTE), 1 if label != "air velocity" else 2), max_age)


def baking(air: float, lag: float):
    """Warm from 11:38 on towards the bake, from 12:40 on back again, with a lag in minutes."""

    def shape(minute: np.ndarray) -> np.ndarray:
        up = np.clip(1 - np.exp(-(minute - 333) / lag), 0, None)
        down = np.clip(1 - np.exp(-(minute - 395) / 7), 0, None)
        return air + 0.4 * np.sin(minute / 9) + 48 * up - 46 * down

    return shape


def traces() -> Traces:
    """Readings of simple shapes for the record above, with the humidity quiet from 10:33:20 to 10:39:34."""
    humidity = line("humidity", lambda m: 52 + 6 * np.sin(m / 55) + 0.8 * np.sin(m / 3))
    quiet = (humidity.times > us("10:33:20")) & (humidity.times < us("10:39:34"))
    humidity.values[quiet] = np.nan
    spans = [(row["step"], row["kind"], row["start"], row["end"]) for row in steps()]
    bands = tuple(Band(name, kind, parse_time(start), parse_time(end)) for name, kind, start, end in spans)
    bands += (Band("base-flash", "flash", us("09:04"), us("10:28")), Band("clear-flash", "flash", us("10:42"), us("10:52")))
    coats = [(band.start, band.end) for band in bands if band.kind == "coat"]
    velocity = line("air velocity", lambda m: np.where((m > 330) & (m < 396), 0.25, 0.5 - m / 9000) + 0.01 * np.sin(m))
    parts = (line("part, lower (fibreglass)", baking(22.4, 5)), line("part, sills (steel)", baking(22.0, 11)))
    climate_lines = (line("air", baking(23.5, 2.5)), *parts, line("dew point", lambda m: 13 + 0.008 * m, end="11:38"))
    return Traces(
        us("06:05"), us("13:20"), bands,
        (
            Panel("Air, part and dew-point temperature", "°C", climate_lines, (*(LimitSpan(a, b, 20, 32) for a, b in coats), LimitSpan(us("11:38:10"), us("12:40"), None, 82))),
            Panel("Relative humidity", "%", (humidity,), tuple(LimitSpan(a, b, None, 75) for a, b in coats),
                  (Mark(us("10:33:20"), us("10:39:34"), "humidity not proven in clear-1, 6 min 14 s", "unproven"),)),
            Panel("Air velocity", "m/s", (velocity,), tuple(LimitSpan(a, b, 0.4, None) for a, b in coats)),
        ),
        (Mark(us("08:41:50"), us("09:25"), "base-1 start", "met"), Mark(us("11:04"), us("11:24"), "bake start, 14 min late", "missed")),
    )  # fmt: skip
