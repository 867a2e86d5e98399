"""A report as one JSON object with stable keys, and the JSON Schema of it."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

from sim.states import Report

_REPORT: TypeAdapter[Report] = TypeAdapter(Report)


def report_json(report: Report) -> str:
    """The report as indented JSON; unknown figures are null."""
    return _REPORT.dump_json(report, indent=2).decode()


def report_schema() -> dict[str, Any]:
    """JSON Schema of `bedjoint check --json`."""
    schema = _REPORT.json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
