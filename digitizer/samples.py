"""The sample jobs: inside the package once installed, at the top of the tree in a checkout."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parent
_HOMES = (_PACKAGE / "sample_images", _PACKAGE.parent / "sample_images")


def sample_job(name: str) -> Path:
    """
    The job file of a sample, its photos beside it.

    Parameters
    ----------
    name
        Folder of the sample, such as ``flat_square_on``.

    Raises
    ------
    ValueError
        If there is no sample of that name.
    """
    for home in _HOMES:
        job = home / name / "job.json"
        if job.is_file():
            return job
    raise ValueError(f"no sample named {name!r} in {' or '.join(map(str, _HOMES))}")
