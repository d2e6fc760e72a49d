"""`make bench`: speed and size, each beside a limit or a library measured in the same run. Never a test: machines differ.

Prints a table and writes bench.json. Figures are medians of 15 runs unless their part says otherwise; the demonstration shift
runs once. docs/performance.md says how to read them. `python -m tests.bench PART…` measures only these parts, and writes no file.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

RUNS = 15
SAMPLES = 1_000_000


@dataclass(frozen=True)
class Figure:
    """`ratio` is value / limit; `reached` says whether the value is on the right side of the goal."""

    name: str
    value: float
    unit: str
    limit: float | None
    ratio: float | None
    goal: str
    reached: bool | None


def seconds(action: Callable[[], object], runs: int = RUNS) -> float:
    """Median of several runs after one that isn't counted."""
    action()
    return statistics.median(_once(action) for _ in range(runs))


def _once(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun


def dew_point() -> Iterator[Figure]:
    """A million dew points against numpy's exp + log over the same array, and against psychrolib one by one."""
    import psychrolib

    from booth.physics.moist_air import dew_point_c

    chance = np.random.default_rng(7)
    air, humidity = chance.uniform(0, 100, SAMPLES), chance.uniform(5, 100, SAMPLES)
    ours = seconds(lambda: dew_point_c(air, humidity))
    bare = seconds(lambda: (np.exp(humidity / 100), np.log(humidity)))
    yield Figure("dew point, 1e6 samples", ours, "s", bare, ours / bare, "≤ 8 × numpy exp + log", ours / bare <= 8)
    psychrolib.SetUnitSystem(psychrolib.SI)
    pairs = list(zip(air[:20_000].tolist(), (humidity[:20_000] / 100).tolist(), strict=True))
    scalar = seconds(lambda: [psychrolib.GetTDewPointFromRelHum(t, rh) for t, rh in pairs], 3) * SAMPLES / len(pairs)
    yield Figure("dew point, against psychrolib's scalar loop", ours, "s", scalar, ours / scalar, "printed", None)
    reference = np.array([psychrolib.GetTDewPointFromRelHum(t, rh) for t, rh in pairs])
    liquid = reference > 0.1  # below, psychrolib gives the frost point
    error = float(np.abs(dew_point_c(air[:20_000], humidity[:20_000]) - reference)[liquid].max())
    yield Figure("dew point, largest error above 0 °C", error, "K", 0.02, error / 0.02, "≤ 0.02 K", error <= 0.02)


def finding() -> Iterator[Figure]:
    """One finding for a 60-minute step at 1 Hz, evidence gathered and judged."""
    from bench_judge import finding_of_a_60_minute_step

    value = finding_of_a_60_minute_step()
    yield Figure("finding, 60-minute step at 1 Hz", value * 1000, "ms", 2.0, value * 1000 / 2, "≤ 2 ms", value <= 0.002)


def help_command() -> Iterator[Figure]:
    """The whole process, and whether it imports what it shouldn't."""
    command = [sys.executable, "-m", "booth", "--help"]
    value = seconds(lambda: subprocess.run(command, stdout=subprocess.DEVNULL, check=True))
    bare = seconds(lambda: subprocess.run([sys.executable, "-c", ""], check=True))
    yield Figure("booth --help", value, "s", 0.4, value / 0.4, "≤ 0.4 s", value <= 0.4)
    yield Figure("booth --help, against a bare interpreter", value, "s", bare, value / bare, "printed", None)


def demo() -> Iterator[Figure]:
    """The whole demonstration shift: 8 hours, two booths, over a real broker, documents included."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "booth", "demo", "--json", "--out", str(Path(folder) / "demo")]
        begun = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        peak = 0.0
        while process.poll() is None:
            peak = max(peak, resident_mb(process.pid))
            time.sleep(0.1)
        value = time.perf_counter() - begun
        if process.returncode:
            raise SystemExit(f"the demonstration failed with exit code {process.returncode}")
    yield Figure("demo shift", value, "s", 90.0, value / 90, "≤ 90 s", value <= 90)
    yield Figure("demo shift, resident memory of the logger", peak, "MB", 400.0, peak / 400, "≤ 400 MB", peak <= 400)


def resident_mb(pid: int) -> float:
    try:
        for line in Path(f"/proc/{pid}/status").read_text().splitlines():
            if line.startswith("VmRSS:"):
                return int(line.split()[1]) / 1024
    except OSError:
        pass
    return 0.0


def _store() -> Iterator[Figure]:
    from bench_store import figures

    yield from figures()


def _ingest() -> Iterator[Figure]:
    from bench_ingest import figures

    yield from figures("--long" in sys.argv)


def _board() -> Iterator[Figure]:
    from bench_board import figures

    yield from figures()


PARTS = {
    **{"dew_point": dew_point, "finding": finding, "help": help_command},
    **{"store": _store, "ingest": _ingest, "board": _board, "demo": demo},
}


def main() -> None:
    sys.path.insert(0, str(Path(__file__).parent))
    chosen = [word for word in sys.argv[1:] if word != "--long"]
    if unknown := set(chosen) - set(PARTS):
        raise SystemExit(f"no part {', '.join(sorted(unknown))}; write some of {', '.join(PARTS)}; --long: memory for an hour")
    figures = []
    for name in chosen or PARTS:
        for figure in PARTS[name]():
            figures.append(figure)
            _print(figure)
    if not chosen:
        text = json.dumps([asdict(one) for one in figures], indent=2, ensure_ascii=False)
        Path("bench.json").write_text(text, encoding="utf-8")
    missed = [one.name for one in figures if one.reached is False]
    print(f"{len(figures)} figures; {'not reached: ' + ', '.join(missed) if missed else 'every goal reached'}")
    raise SystemExit(1 if missed else 0)


def _print(figure: Figure) -> None:
    mark = {True: "reached", False: "NOT REACHED", None: ""}[figure.reached]
    limit = "" if figure.limit is None else f"{figure.limit:10.4g}"
    ratio = "" if figure.ratio is None else f"{figure.ratio:8.3f}"
    print(
        f"{figure.name:<52} {figure.value:10.4g} {figure.unit:<3} limit {limit} ratio {ratio}  {figure.goal}  {mark}", flush=True
    )


if __name__ == "__main__":
    main()
