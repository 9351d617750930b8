"""Jobs to be refused or measured: copies of a sample with something changed."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from digitizer.samples import sample_job

Record = dict[str, Any]


def copied(folder: Path, edit: Callable[[Record], None] | None = None, sample: str = "flat_square_on") -> Path:
    """The job file of a sample copied into `folder`, after `edit` changed its record."""
    source = sample_job(sample)
    for photo in source.parent.glob("*.jpg"):
        shutil.copyfile(photo, folder / photo.name)
    record = json.loads(source.read_text(encoding="utf-8"))
    if edit is not None:
        edit(record)
    job = folder / "job.json"
    job.write_text(json.dumps(record), encoding="utf-8")  # writes NaN as Python does, which readers must refuse
    return job


def marks(record: Record, kind: str) -> list[Record]:
    """The marks of one kind."""
    return [mark for mark in record["marks"] if mark["kind"] == kind]
