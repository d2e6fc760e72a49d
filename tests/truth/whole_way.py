"""Some of the shifts once more as a shop's messages go: as JSON, through decoding, into a store on disk, or over a broker."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from booth.clocks import TickClock
from booth.demo.broker import Mosquitto, find_mosquitto
from booth.service import serve
from booth.shop.shop import Shop
from booth.store import Store
from booth.times import SECOND, format_time
from simulators.any_shift import any_shift
from simulators.instruments import TICK_S
from simulators.publish import Link
from tests.truth.play import AFTER_US, Keep, Tick
from tests.truth.shift import Row, Script, Shift, guarded_shop, judged_shift, rows_of, simulated


def compared(shifts: Sequence[Shift], seeds: Sequence[int], over_broker: int, script: Script = any_shift) -> Iterator[str]:
    """A line for each finding that came out otherwise than in memory, and for a broker that isn't there."""
    shop, quick = guarded_shop(), {shift.seed: shift.rows for shift in shifts}
    for number, seed in enumerate(seeds, 1):
        print(f"\r{number} of {len(seeds)} shifts through a store on disk  ", end="", file=sys.stderr, flush=True)
        yield from differences(quick[seed], through_disk(seed, shop, script), f"seed {seed}, through a store on disk")
    for seed in seeds[:over_broker]:
        print(f"\rseed {seed} through a broker                         ", end="", file=sys.stderr, flush=True)
        yield from differences(quick[seed], through_broker(seed, shop, script), f"seed {seed}, through a broker")
    print(file=sys.stderr)


def through_disk(seed: int, shop: Shop, script: Script = any_shift) -> tuple[Row, ...]:
    with TemporaryDirectory() as folder:
        on_disk = partial(Store.open, Path(folder), writer=True)
        return judged_shift(seed, shop, keep=Keep, open_store=on_disk, script=script).rows


def through_broker(seed: int, shop: Shop, script: Script = any_shift) -> tuple[Row, ...]:
    """In lockstep, with a look at every tick. The logger isn't restarted on the way."""
    program = find_mosquitto()
    if program is None:
        raise SystemExit("there is no Mosquitto; run 'make setup', or write --broker 0")
    scenario, ticks, truth = simulated(seed, shop, script=script)
    with TemporaryDirectory() as folder, Mosquitto(program, Path(folder) / "broker") as broker:
        with serve(shop, Path(folder) / "store", TickClock(), [], "127.0.0.1", broker.port) as service:
            plant = threading.Thread(target=_publish, args=(ticks, broker.port, service.stopping))
            plant.start()
            service.run_until_stopped()
            plant.join()
            as_of = ticks[-1][0] + AFTER_US
            service.look(as_of)
            return rows_of(seed, shop, service.store, scenario, truth, as_of)


def _publish(ticks: Sequence[Tick], port: int, stopping: threading.Event) -> None:
    try:
        link = Link("127.0.0.1", port)
        link.await_logger(format_time(ticks[0][0] - TICK_S * SECOND))
        for now, messages in ticks:
            link.send(messages)
            link.tick(format_time(now))
        link.close()
    finally:
        stopping.set()


def differences(quick: Sequence[Row], other: Sequence[Row], where: str) -> Iterator[str]:
    expected = {row.requirement: row for row in quick}
    found = {row.requirement: row for row in other}
    for name in sorted(expected.keys() | found.keys()):
        if expected.get(name) != found.get(name):
            said = [f"{one.verdict}: {one.sentence}" if one else "nothing" for one in (expected.get(name), found.get(name))]
            yield f"{where}: {name} gave {said[1]} instead of {said[0]}"
