"""All tables and triggers of the store, in the order in which they came to be.

PRAGMA user_version holds the number of migrations that ran; each commits together with that number. A migration adds; it
never rewrites a journal entry or a reading. The triggers are promises kept in the file itself, so that a hand with another
program meets them too (whoever removes them is found by the chain of hashes).

An older store is copied to a file beside it before it is migrated; a warning in the log names the copy.
"""

from __future__ import annotations

import logging
import sqlite3
from contextlib import closing

from booth.store.copying import copy_beside
from booth.store.database import Database, StoreError

log = logging.getLogger(__name__)

APPLICATION_ID = 0x626F6F74  # "boot" in ASCII: marks the SQLite file as ours

_FIRST = (
    """
    CREATE TABLE journal (          -- everything that people and the logger said and did, as a chain of hashes
        seq       INTEGER PRIMARY KEY,
        bytes     BLOB NOT NULL,    -- the entry itself, RFC 8785; what follows is an index to it
        hash      TEXT NOT NULL UNIQUE,
        id        TEXT NOT NULL UNIQUE,
        kind      TEXT NOT NULL,
        recorded  INTEGER NOT NULL, -- microseconds UTC: when it was written down
        effective INTEGER NOT NULL, -- microseconds UTC: when it was so
        channel   TEXT NOT NULL,
        vehicle   TEXT              -- body.vehicle, where there is one
    )
    """,
    "CREATE INDEX journal_vehicle ON journal (vehicle, seq) WHERE vehicle IS NOT NULL",
    "CREATE INDEX journal_kind ON journal (kind, seq)",
    """
    CREATE TRIGGER journal_keeps_entries BEFORE UPDATE ON journal
    BEGIN SELECT raise(ABORT, 'a journal entry is never changed; append a correction'); END
    """,
    """
    CREATE TRIGGER journal_keeps_all BEFORE DELETE ON journal
    BEGIN SELECT raise(ABORT, 'a journal entry is never deleted; append a correction'); END
    """,
    # INSERT OR REPLACE deletes without asking the trigger above: it must not find a row to replace.
    """
    CREATE TRIGGER journal_grows_by_one BEFORE INSERT ON journal
    WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM journal)
        OR EXISTS (SELECT 1 FROM journal WHERE id = NEW.id OR hash = NEW.hash)
    BEGIN SELECT raise(ABORT, 'a journal entry must be new and carry the next number'); END
    """,
    """
    CREATE TABLE disclosure (       -- what the salted commitments of an entry stand for; deleting here is redaction
        seq  INTEGER NOT NULL REFERENCES journal (seq),
        name TEXT NOT NULL,
        salt BLOB NOT NULL,
        text TEXT NOT NULL,
        PRIMARY KEY (seq, name)
    ) WITHOUT ROWID
    """,
    """
    CREATE TRIGGER disclosure_keeps_text BEFORE UPDATE ON disclosure
    BEGIN SELECT raise(ABORT, 'a disclosure is kept or redacted, never changed'); END
    """,
    "CREATE TABLE point (id INTEGER PRIMARY KEY, text TEXT NOT NULL UNIQUE)  -- north/air-temperature",
    "CREATE TABLE unit (id INTEGER PRIMARY KEY, text TEXT NOT NULL UNIQUE)   -- as sent: degF",
    """
    CREATE TABLE reading (          -- every value that was measured, as sent; identity is (point, time)
        point   INTEGER NOT NULL REFERENCES point (id),
        time    INTEGER NOT NULL,   -- microseconds UTC, the instrument's
        ordinal INTEGER NOT NULL,   -- 0; 1, 2, … for further, contradicting values of the same time
        sent    TEXT NOT NULL,      -- the decimal or word exactly as sent
        unit    INTEGER NOT NULL REFERENCES unit (id),
        value   REAL NOT NULL,      -- in the unit used inside
        mapping INTEGER NOT NULL,   -- version of the mapping that made `value` of `sent`
        arrived INTEGER NOT NULL,   -- microseconds UTC
        quality TEXT NOT NULL,      -- "good", or why not
        PRIMARY KEY (point, time, ordinal)
    ) WITHOUT ROWID
    """,
    """
    CREATE TRIGGER reading_keeps_values BEFORE UPDATE ON reading
    BEGIN SELECT raise(ABORT, 'a reading is never changed'); END
    """,
    """
    CREATE TRIGGER reading_keeps_all BEFORE DELETE ON reading
    BEGIN SELECT raise(ABORT, 'a reading is never deleted'); END
    """,
    """
    CREATE TRIGGER reading_first_wins BEFORE INSERT ON reading
    WHEN EXISTS (SELECT 1 FROM reading WHERE point = NEW.point AND time = NEW.time AND ordinal = NEW.ordinal)
    BEGIN SELECT raise(IGNORE); END
    """,
    """
    CREATE TABLE quarantine (       -- what came in and couldn't be used
        id       INTEGER PRIMARY KEY,
        arrived  INTEGER NOT NULL,  -- microseconds UTC
        reader   TEXT NOT NULL,
        origin   TEXT NOT NULL,     -- topic, or file:line
        reason   TEXT NOT NULL,     -- one code word
        sentence TEXT NOT NULL,     -- the same for people
        payload  BLOB NOT NULL,     -- its beginning
        length   INTEGER NOT NULL   -- bytes of the whole payload
    )
    """,
    "CREATE INDEX quarantine_reason ON quarantine (reason)",
)

_SECOND = (
    """
    CREATE TABLE chunk (            -- sealed readings: one point's, of one hour; booth/store/chunk.py says what the bytes mean
        id    INTEGER PRIMARY KEY,
        bytes BLOB NOT NULL
    )
    """,
    """
    CREATE TABLE sealed_hour (      -- what lies in the chunks and what it amounts to, so that they needn't be opened for it
        point       INTEGER NOT NULL REFERENCES point (id),
        hour        INTEGER NOT NULL,   -- its beginning, microseconds UTC
        chunk       INTEGER NOT NULL REFERENCES chunk (id),
        sha256      BLOB NOT NULL,      -- of the chunk's bytes
        size        INTEGER NOT NULL,   -- their number
        count       INTEGER NOT NULL,   -- readings of any quality
        first_time  INTEGER NOT NULL,
        last_time   INTEGER NOT NULL,
        longest_gap INTEGER NOT NULL,   -- microseconds between two of them
        usable      INTEGER NOT NULL,   -- good readings that none of these contradicts; what follows is about them, in the
        low         REAL,               -- unit used inside
        mean        REAL,
        high        REAL,
        first       REAL,
        last        REAL,
        PRIMARY KEY (point, hour)
    ) WITHOUT ROWID
    """,
    "CREATE INDEX sealed_hour_newest ON sealed_hour (hour)",
    *(
        f"""
        CREATE TRIGGER {table}_{name} BEFORE {event} ON {table}
        {condition} BEGIN SELECT raise(ABORT, 'a sealed reading is never changed or deleted'); END
        """
        for table, there in (("chunk", "id = NEW.id"), ("sealed_hour", "point = NEW.point AND hour = NEW.hour"))
        for name, event, condition in (
            ("keeps_values", "UPDATE", ""),
            ("keeps_all", "DELETE", ""),
            ("first_wins", "INSERT", f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {there})"),  # INSERT OR REPLACE
        )
    ),
    # Only the program that is sealing knows this function (booth/store/sealing.py): it looks the row up in the chunk that it has
    # just written. For every other program the statement fails, and the function's name says why.
    "DROP TRIGGER reading_keeps_all",
    """
    CREATE TRIGGER reading_keeps_all BEFORE DELETE ON reading
    WHEN NOT a_reading_is_never_deleted_but_when_sealed(
        OLD.point, OLD.time, OLD.ordinal, OLD.sent, OLD.unit, OLD.value, OLD.mapping, OLD.arrived, OLD.quality)
    BEGIN SELECT raise(ABORT, 'a reading is never deleted but when it is sealed'); END
    """,
)

_THIRD = (
    """
    CREATE TABLE pruned_hour (      -- what hours amounted to whose readings were deleted, as the site's retention says
        point       INTEGER NOT NULL REFERENCES point (id),
        hour        INTEGER NOT NULL,
        entry       INTEGER NOT NULL REFERENCES journal (seq),  -- that says so, with the hash of what was deleted
        chunk       INTEGER NOT NULL,   -- the number that it had; never given again
        count       INTEGER NOT NULL,   -- from here on as in sealed_hour
        first_time  INTEGER NOT NULL,
        last_time   INTEGER NOT NULL,
        longest_gap INTEGER NOT NULL,
        usable      INTEGER NOT NULL,
        low         REAL,
        mean        REAL,
        high        REAL,
        first       REAL,
        last        REAL,
        PRIMARY KEY (point, hour)
    ) WITHOUT ROWID
    """,
    "CREATE UNIQUE INDEX pruned_hour_chunk ON pruned_hour (chunk)",
    "CREATE INDEX pruned_hour_entry ON pruned_hour (entry)",
    """
    CREATE TRIGGER pruned_hour_is_journalled BEFORE INSERT ON pruned_hour
    WHEN NOT EXISTS (SELECT 1 FROM journal WHERE seq = NEW.entry AND kind = 'retention')
        OR EXISTS (SELECT 1 FROM pruned_hour WHERE (point = NEW.point AND hour = NEW.hour) OR chunk = NEW.chunk)
    BEGIN SELECT raise(ABORT, 'readings are deleted once, and with a journal entry that says so'); END
    """,
    *(
        f"""
        CREATE TRIGGER pruned_hour_{name} BEFORE {event} ON pruned_hour
        BEGIN SELECT raise(ABORT, 'what deleted readings amounted to is never changed or deleted'); END
        """
        for name, event in (("keeps_values", "UPDATE"), ("keeps_all", "DELETE"))
    ),
    *(
        statement
        for table, same in (
            ("chunk", "chunk = OLD.id"),
            ("sealed_hour", "(point, hour, chunk) = (OLD.point, OLD.hour, OLD.chunk)"),
        )
        for statement in (
            f"DROP TRIGGER {table}_keeps_all",
            f"""
            CREATE TRIGGER {table}_keeps_all BEFORE DELETE ON {table}
            WHEN NOT EXISTS (SELECT 1 FROM pruned_hour WHERE {same})
            BEGIN SELECT raise(ABORT, 'a sealed reading is never changed or deleted'); END
            """,
        )
    ),
)

MIGRATIONS = (_FIRST, _SECOND, _THIRD)


def prepare(database: Database) -> None:
    """Bring a new or older file to the newest schema; refuse one that is newer or not ours. Raises StoreError."""
    version = _version(database)
    (mode,) = database.row("PRAGMA journal_mode = WAL")  # others read while the logger writes
    if mode not in ("wal", "memory"):  # in memory there is nobody else
        raise StoreError(f"{database.path}: this file system allows no write-ahead log; keep the store on a local disk")
    if version < len(MIGRATIONS):
        with database.transaction():  # whoever waited here for another process finds the work done
            _migrate(database, _version(database))
    _refuse_newer(database)


def differences(database: Database) -> list[str]:
    """Sentences about every table, index and trigger that isn't as the migrations made it."""
    expected, there = _objects(None), _objects(database)
    names = sorted(expected.keys() | there.keys())
    states = {True: "isn't as it was made", False: "is missing"}
    return [
        f"The {kind} {name} {states[(kind, name) in there] if (kind, name) in expected else 'was added by somebody'}."
        for kind, name in names
        if expected.get((kind, name)) != there.get((kind, name))
    ]


def _objects(database: Database | None) -> dict[tuple[str, str], str | None]:
    """Every table, index and trigger by kind and name: of a store, or, where none is given, of a new one."""
    sql = "SELECT CAST(type AS TEXT), CAST(name AS TEXT), CAST(sql AS TEXT) FROM sqlite_master"  # damage may be of any type
    if database is not None:
        rows = database.rows(sql)
    else:
        with closing(sqlite3.connect(":memory:")) as fresh:
            for statement in (statement for statements in MIGRATIONS for statement in statements):
                fresh.execute(statement)
            rows = fresh.execute(sql).fetchall()
    return {(kind, name): text for kind, name, text in rows if not name.startswith("sqlite_stat")}


def _version(database: Database) -> int:
    version, application, tables = database.row(  # one query: another process may be creating the tables just now
        "SELECT user_version, application_id, (SELECT count(*) FROM sqlite_master)"
        " FROM pragma_user_version, pragma_application_id"
    )
    if tables and application != APPLICATION_ID:
        raise StoreError(f"{database.path}: an SQLite database of some other program; name another --store")
    return version


def _migrate(database: Database, version: int) -> None:
    """The write lock is held, so that nothing can come between the copy and the migration."""
    newest = len(MIGRATIONS)
    if 0 < version < newest:
        kept = copy_beside(database.path, f"schema-{version}")
        log.warning("%s: bringing it from schema %d to %d; as it is now, it is kept in %s", database.path, version, newest, kept)
    for number, statements in enumerate(MIGRATIONS[version:], start=version + 1):
        for statement in statements:
            database.execute(statement)
        database.execute(f"PRAGMA user_version = {number}")
    database.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _refuse_newer(database: Database) -> None:
    version, known = _version(database), len(MIGRATIONS)
    if version > known:
        raise StoreError(
            f"{database.path}: written by a newer version of this program (schema {version}, known here {known}); update this one"
        )
