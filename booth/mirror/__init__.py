"""The mirror: a copy of readings, findings and alarms in a shop's own InfluxDB, for its dashboards. Write-only: nothing here is
ever read back, and no verdict depends on it.

The store is its own outbox. Readings are never changed and the journal is numbered, so the mirror keeps no second copy of what is
still to be sent: it remembers how far it has come, and moves on only after the server has said that it keeps what it was sent.

settings.py   from the shop's configuration      lines.py     line protocol (pure)
memory.py     how far it has come                arrivals.py  what was committed since
server.py     one write, and what its answer means            delivery.py  lines the server refuses are set aside
mirror.py     the loop                           process.py   the loop in a process of its own
status.py     how far it is behind
"""

from booth.mirror.process import mirroring
from booth.mirror.settings import Settings, settings_of
from booth.mirror.status import status

__all__ = ["Settings", "mirroring", "settings_of", "status"]
