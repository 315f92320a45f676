"""A drill: a backup is put back where it harms nobody, looked through, and held against the log."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from fieldkit.joblog.backup import Place, photo_files, photos_known
from fieldkit.joblog.integrity import drifted
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.restore import Restored, restore


@dataclass(frozen=True, slots=True)
class Drilled:
    """What a drill found. ``since`` counts the entries that arrived after the copy was made;
    ``wrong`` are sentences about what is not as it should be.
    """

    restored: Restored
    since: int
    wrong: tuple[str, ...]


def drill(file: Path, log: JobLog, place: Place) -> Drilled:
    """Put a backup back into a scratch place beside the log, and compare.

    ``restore`` checks every digest, seal and photo, and works the jobs out anew. Then: the log
    that stands must begin with what the copy holds, by the hash tree of arrivals; the photos of
    the copy's entries that were here then must be in it; and where people log in, so must they.

    Raises
    ------
    Problem
        The copy could not be put back at all.
    """
    with tempfile.TemporaryDirectory(dir=place.log.parent, prefix=".drill-") as folder:
        there = Place(*(Path(folder, name) for name in ("log.db", "log.people", "photos", "none")))
        restored = restore(file, there, "drill")
        wrong = []
        with JobLog.open(there.log) as copy:
            head = copy.head()
            size = 0 if head is None else head.size
            if head is not None and log.head(size) != head:
                wrong.append("The log that stands does not begin with what this copy holds.")
            wrong += [f"Job {job} is not what its entries say." for job in drifted(copy)]
            with copy.reading() as conn:
                known = photos_known(conn)
        missing = known - dict(photo_files(there.photos)).keys()
        made = datetime.fromisoformat(restored.made_at).timestamp()
        # A phone sends a photo after its entry: what came after the copy was made is not lost.
        lost = [
            name
            for name, path in photo_files(place.photos)
            if name in missing and path.stat().st_mtime < made
        ]
        if lost:
            wrong.append(f"{len(lost)} photos that were here are not in this copy.")
        if place.people.is_file() and not restored.people:
            wrong.append("Who may enter is not in this copy.")
    return Drilled(restored, log.count() - size, tuple(wrong))
