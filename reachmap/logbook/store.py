"""Storage of log entries: each is on the disk, whole, when the call returns, or not at all."""

from __future__ import annotations

import math
import sqlite3
import struct
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from zoneinfo import ZoneInfo

from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.logbook.schema import back_up, busy, open_log
from reachmap.markup.files import LOG_FILE

FILE = LOG_FILE
"""The log's name in a reach folder: a file of its own, so that a GIS that draws never locks it."""

FEW = 100
"""Up to so many entries, observations are selected by entry; of more, all are read (our choice)."""

_COLUMNS = (
    "uid, when_utc, zone, run, flow_m3_s, flow_from, clarity_m, water_c, minutes, swung, touches, "
    "landed, released, photo, note, geom, station_m, bank"
)


class TripLog:
    """The log of one reach folder.

    Parameters
    ----------
    path
        The GeoPackage; made if it is not there.
    """

    def __init__(self, path: Path) -> None:
        """Open the log and bring it up to date."""
        self.path = path
        self._database = open_log(path)

    def __enter__(self) -> TripLog:
        """Return the open log."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it."""
        self.close()

    def close(self) -> None:
        """Close the database."""
        self._database.close()

    def add(self, *entries: Entry) -> int:
        """Keep entries, all or none; one whose id is kept already is left as it is.

        Returns
        -------
        int
            How many were new.
        """
        with self._transaction():
            return sum(self._insert(entry) for entry in entries)

    def keep(self, entry: Entry) -> bool:
        """Keep an entry, in the place of the one with its id where there is one.

        Returns
        -------
        bool
            Whether anything is other than before.
        """
        old = self.entry(entry.uid)
        if old is None:
            return self.add(entry) == 1
        if _row(old) == _row(entry) and repr(old.seen) == repr(entry.seen):
            return False
        self.replace(entry)
        return True

    def replace(self, entry: Entry) -> None:
        """Put an entry in the place of the one with its id; the log is copied aside before.

        Raises
        ------
        KeyError
            If there is none.
        """
        back_up(self.path)
        with self._transaction():
            self._delete(entry.uid)
            self._insert(entry)

    def remove(self, uid: str) -> None:
        """Take an entry out; the log is copied aside before.

        Raises
        ------
        KeyError
            If there is none with this id.
        """
        if self.entry(uid) is None:
            raise KeyError(uid)
        back_up(self.path)
        with self._transaction():
            self._delete(uid)

    def entry(self, uid: str) -> Entry | None:
        """Return the entry with an id; None where there is none."""
        found = self._read("WHERE uid = ?", (uid,))
        return found[0] if found else None

    def latest(self, number: int) -> list[Entry]:
        """Return the newest entries, newest first."""
        return self._read("ORDER BY when_utc DESC, fid DESC LIMIT ?", (number,))

    def runs(self) -> list[str]:
        """Return the names of runs in the log, the one fished last first."""
        rows = self._database.execute(
            "SELECT run FROM entries WHERE run <> '' GROUP BY run ORDER BY max(when_utc) DESC"
        )
        return [str(row[0]) for row in rows]

    def entries(self, *, run: str | None = None) -> list[Entry]:
        """Return entries by time, oldest first; of one run if named."""
        where, values = ("", ()) if run is None else ("WHERE run = ?", (run,))
        return self._read(f"{where} ORDER BY when_utc, fid", values)

    def _read(self, clause: str, values: tuple[object, ...]) -> list[Entry]:
        """Return the entries that an SQL clause picks, in its order."""
        rows = self._database.execute(f"SELECT {_COLUMNS} FROM entries {clause}", values).fetchall()
        seen = self._seen([str(row[0]) for row in rows])
        return [_entry(row, seen.get(str(row[0]), ())) for row in rows]

    def _seen(self, uids: Sequence[str]) -> dict[str, tuple[Seen, ...]]:
        """Return what was seen, by entry, in the order it was written down."""
        found: dict[str, list[Seen]] = {}
        few = uids if len(uids) <= FEW else []  # reading all is quicker than a long IN list
        clause = f"WHERE entry_uid IN ({', '.join('?' * len(few))})" if few else ""
        rows = self._database.execute(
            f"SELECT entry_uid, kind, value, note, geom FROM seen {clause} "
            "ORDER BY entry_uid, place",
            few,
        )
        for uid, kind, value, note, geom in rows:
            x, y = _place(geom)
            found.setdefault(str(uid), []).append(
                Seen(SeenKind(kind), x, y, _or_nan(value), str(note))
            )
        return {uid: tuple(items) for uid, items in found.items()}

    def _insert(self, entry: Entry) -> int:
        """Insert an entry and its observations; return 1, or 0 if its id is kept already."""
        done = self._database.execute(
            f"INSERT INTO entries ({_COLUMNS}) VALUES ({', '.join('?' * 18)}) "
            "ON CONFLICT (uid) DO NOTHING",
            _row(entry),
        )
        if done.rowcount < 1:
            return 0
        self._database.executemany(
            "INSERT INTO seen (entry_uid, place, kind, value, note, geom) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            [
                (entry.uid, n, str(s.kind), _or_none(s.value), s.note, _point(s.x, s.y))
                for n, s in enumerate(entry.seen)
            ],
        )
        return 1

    def _delete(self, uid: str) -> None:
        """Delete an entry; its observations go with it (ON DELETE CASCADE)."""
        if self._database.execute("DELETE FROM entries WHERE uid = ?", (uid,)).rowcount < 1:
            raise KeyError(uid)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """Commit what happens inside, or undo all of it."""
        try:
            self._database.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self._database.execute("ROLLBACK")
                raise
            self._database.execute("COMMIT")
        except sqlite3.OperationalError as error:
            if self._database.in_transaction:
                self._database.execute("ROLLBACK")
            raise busy(self.path, error) from None


def _row(entry: Entry) -> tuple[object, ...]:
    """Return an entry as a database row."""
    return (
        entry.uid,
        entry.when.astimezone(UTC).isoformat(timespec="seconds"),
        _zone(entry.when),
        entry.run,
        _or_none(entry.flow),
        entry.flow_from,
        _or_none(entry.clarity_m),
        _or_none(entry.water_c),
        _or_none(entry.minutes),
        entry.swung,
        entry.touches,
        entry.landed,
        entry.released,
        entry.photo,
        entry.note,
        None if math.isnan(entry.x) or math.isnan(entry.y) else _point(entry.x, entry.y),
        _or_none(entry.station_m),
        entry.bank,
    )


def _entry(row: tuple[object, ...], seen: tuple[Seen, ...]) -> Entry:
    """Return a database row as an entry."""
    x, y = _place(row[15])
    return Entry(
        uid=str(row[0]),
        when=_local(str(row[1]), str(row[2])),
        run=str(row[3]),
        flow=_or_nan(row[4]),
        flow_from=str(row[5]),
        clarity_m=_or_nan(row[6]),
        water_c=_or_nan(row[7]),
        minutes=_or_nan(row[8]),
        swung=str(row[9]),
        touches=int(str(row[10])),
        landed=int(str(row[11])),
        released=int(str(row[12])),
        photo=str(row[13]),
        note=str(row[14]),
        x=x,
        y=y,
        seen=seen,
        station_m=_or_nan(row[16]),
        bank=str(row[17]),
    )


def _local(when_utc: str, zone: str) -> datetime:
    """Return a stored time in the zone it was written in, UTC where that zone has no name here."""
    moment = datetime.fromisoformat(when_utc)
    try:
        if zone[:1] in {"+", "-"}:
            return moment.astimezone(datetime.strptime(zone, "%z").tzinfo)
        return moment.astimezone(ZoneInfo(zone))
    except (KeyError, ValueError, OSError):
        return moment


def _zone(when: datetime) -> str:
    """Return the name of a time's zone, or its offset like -0800 where it has no name."""
    return str(getattr(when.tzinfo, "key", "")) or when.strftime("%z")


def _point(x: float, y: float) -> bytes:
    """Return a point as a GeoPackage geometry (OGC 12-128, clause 2.1.3): header, WGS84, WKB."""
    return b"GP\x00\x01" + struct.pack("<i", 4326) + struct.pack("<BIdd", 1, 1, x, y)


def _place(geom: object) -> tuple[float, float]:
    """Return longitude and latitude of a stored point; NaN where there is none."""
    if not isinstance(geom, bytes):
        return math.nan, math.nan
    # Header: magic, version, flags, srs_id (8 bytes); bits 1-3 of the flags give the envelope that
    # follows: none, xy, xyz, xym or xyzm of doubles. Then WKB: byte order, type (5 bytes), x, y.
    envelope = (0, 32, 48, 48, 64)[(geom[3] >> 1) & 7]
    order = "<" if geom[8 + envelope] == 1 else ">"
    x, y = struct.unpack_from(f"{order}dd", geom, 8 + envelope + 5)
    return float(x), float(y)


def _or_none(value: float) -> float | None:
    """Return NULL for NaN."""
    return None if math.isnan(value) else value


def _or_nan(value: object) -> float:
    """Return NaN for NULL."""
    return math.nan if value is None else float(str(value))


def kept_in(folder: Path) -> list[Entry]:
    """Return the entries of a reach folder's log, oldest first; none where there is no log."""
    path = folder / FILE
    if not path.is_file():
        return []
    with TripLog(path) as log:
        return log.entries()
