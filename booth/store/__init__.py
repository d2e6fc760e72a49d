"""The store: journal, readings and quarantine in one SQLite file, written so that it can be believed later.

schema.py      all tables and triggers            database.py  transactions, errors in plain words
entry.py       what the journal takes and gives   chain.py     bytes, hashes, checking (pure)
journal.py     append, read, redact, verify       readings.py  append once, evidence, evidence hash
quarantine.py  what couldn't be used              store.py     open, the logger's lock
hot.py         readings as rows                   chunk.py     the bytes of an hour of readings (pure)
sealed.py      readings in chunks                 sealing.py   rows out, chunk in
history.py     hourly summaries, gaps             checking.py  every checksum
pruning.py     old hours out, journalled          leaving.py   which rows may leave the table
salvage.py     around damaged pages               backup.py    back up, restore
reading.py     one reading
"""

from booth.store.database import StoreError
from booth.store.entry import Appended, Draft, Entry, Head, Verification
from booth.store.quarantine import Quarantined
from booth.store.reading import Reading, Stored
from booth.store.readings import KEEP_HOT_US
from booth.store.store import Store

__all__ = [
    "KEEP_HOT_US",
    "Appended",
    "Draft",
    "Entry",
    "Head",
    "Quarantined",
    "Reading",
    "Store",
    "StoreError",
    "Stored",
    "Verification",
]
