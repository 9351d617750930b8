"""
The JSON Schema of the job file, made from the records and their docstrings.

``python -m digitizer.job.schema > docs/reference/job.schema.json`` publishes it anew.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic import ConfigDict, TypeAdapter

from digitizer.job.fields import STRICT, JobInFile
from digitizer.job.model import Job


def json_schema() -> dict[str, Any]:
    """
    The schema (draft 2020-12) that every job of today's format satisfies.

    It says what each field may hold; whether names lead somewhere only `validation` knows.
    """
    described: TypeAdapter[Job] = TypeAdapter(JobInFile, config=STRICT | ConfigDict(use_attribute_docstrings=True))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | described.json_schema()


def schema_text() -> str:
    """The schema as it is published."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False, sort_keys=True) + "\n"


if __name__ == "__main__":
    print(schema_text(), end="")
