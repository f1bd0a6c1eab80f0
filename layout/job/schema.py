"""The JSON Schema of the job file, for editors."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from layout.job.model import JobPart
from layout.job.part import Default


class _Generator(GenerateJsonSchema):
    """Writes defaults as a person would in an inch job; the descriptions say those of a metric one."""

    def encode_default(self, dft: Any) -> Any:
        """Return a default as it stands in a file."""
        return dft.inch if isinstance(dft, Default) else super().encode_default(dft)


def schema() -> dict[str, Any]:
    """Return the JSON Schema of the job file.

    Returns
    -------
    dict
        The schema, ready for ``json.dumps``: every key with its description and default, none beside them allowed.
    """
    made = JobPart.model_json_schema(by_alias=True, schema_generator=_Generator)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made}
