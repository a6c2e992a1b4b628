"""What is told in JSON, held against the schema that ships for it."""

from __future__ import annotations

import json
from functools import cache

import jsonschema

from layout3d.report.schemas import schema_text


@cache
def validator(name: str) -> jsonschema.Draft202012Validator:
    """Make it once: ``jsonschema.validate`` would check the whole schema again each time."""
    return jsonschema.Draft202012Validator(json.loads(schema_text(name)))


def fits(facts: object, name: str) -> None:
    """Raise ValidationError where the facts don't fit the schema of this name."""
    validator(name).validate(facts)
