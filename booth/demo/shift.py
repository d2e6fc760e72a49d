"""A whole simulated shift through the ordinary logger, as fast as the machine can, in lockstep."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from booth.cli.app import UsageError
from booth.cli.init import shipped_config
from booth.clocks import TickClock
from booth.demo.broker import Mosquitto, find_mosquitto
from booth.demo.plant import InProcessPlant, PlantProcess
from booth.demo.view import LiveView, PlainView
from booth.documents import write_documents
from booth.logger import Logger
from booth.notify.console import ConsoleAlarms
from booth.service import serve
from booth.shop.shop import Shop, load_shop, read_files
from booth.store import Store


@dataclass(frozen=True)
class Shift:
    """What a demonstration left behind."""

    records: dict[str, dict]
    seconds: float
    peak_memory_mb: float
    documents: Path
    shop: Shop


def prepare(out: Path) -> Shop:
    """The demonstration's folder with its configuration. Raises UsageError when it can't be used."""
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{out}: {error.strerror}; name another --out") from None
    shutil.copytree(shipped_config(), out / "config", dirs_exist_ok=True)
    return load_shop(read_files(out / "config"))


def run_shift(shop: Shop, out: Path, seed: int, *, over_broker: bool, live: bool, quiet: bool = False) -> Shift:
    """Run the shift in a folder that is prepared, and write its documents."""
    begun = time.monotonic()
    clock = TickClock()
    mosquitto = find_mosquitto() if over_broker else None
    view = LiveView(shop) if live else PlainView(shop, quiet=quiet)
    notifiers = [] if live or quiet else [ConsoleAlarms(shop.site.zone)]
    if over_broker and mosquitto is None:
        view.say("Mosquitto is not installed: the same messages go through the same decoding in this process.")
    with view:
        if mosquitto is not None:
            with Mosquitto(mosquitto, out / "broker") as broker, _simulated(broker.port, seed, out) as plant:
                with serve(shop, out / "store", clock, notifiers, "127.0.0.1", broker.port) as logger:
                    logger.listeners.append(view.update)
                    _stop_with(plant, logger)
                    logger.run_until_stopped()
            plant.check()
        else:
            _run_in_process(shop, out, seed, clock, notifiers, view)
        view.say("Writing the documents.")
        with Store.open(out / "store") as store:
            records = write_documents(shop, store, out / "documents", clock.now())
    return Shift(records, time.monotonic() - begun, _peak_memory_mb(), out / "documents", shop)


@contextmanager
def _simulated(port: int, seed: int, out: Path) -> Iterator[PlantProcess]:
    plant = PlantProcess(port, seed, out / "truth.json")
    try:
        yield plant
    finally:
        plant.stop()


def _stop_with(plant: PlantProcess, logger: Logger) -> None:
    """The logger stops when the plant has published its last tick and gone."""

    def wait() -> None:
        plant.wait()
        logger.stopping.set()

    threading.Thread(target=wait, daemon=True).start()


def _run_in_process(shop: Shop, out: Path, seed: int, clock: TickClock, notifiers: list, view) -> None:
    with Store.open(out / "store", writer=True) as store:
        logger = Logger(shop, store, clock, notifiers)
        logger.listeners.append(view.update)
        plant = InProcessPlant(seed, out / "truth.json", logger.stopping)
        logger.notifiers = [*notifiers, plant]
        logger.run(plant)
        logger.close()


def _peak_memory_mb() -> float:
    """Of this process alone; the kernel's ru_maxrss also remembers the process that started it."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    return 0.0
