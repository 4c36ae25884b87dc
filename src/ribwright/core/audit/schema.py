"""A spec told to a program: JSON Schema of what ``read`` takes."""

from __future__ import annotations

from typing import Any

from ribwright.core.audit.spec import MOST_ROWS, MOST_TEXT, fields_of


def schema(spec: type) -> dict[str, Any]:
    """The JSON schema (2020-12) of a spec's raw form."""
    properties: dict[str, Any] = {}
    required = []
    for field in fields_of(spec):
        said: dict[str, Any] = {"title": field.label, "description": field.help}
        if field.kind == "rows":
            assert field.row is not None
            said |= {
                "type": "array",
                "items": schema(field.row),
                "minItems": field.least,
                "maxItems": MOST_ROWS,
            }
        elif field.kind == "flag":
            said |= {"type": ["boolean", "string"], "default": bool(field.default)}
        elif field.kind == "choice":
            said |= {"type": "string", "enum": list(field.choices)}
        elif field.kind == "quantity":
            said |= {"type": ["string", "number"], "x-unit": field.unit, "examples": [field.example]}
        elif field.kind == "whole":
            said |= {
                "type": ["integer", "string"],
                "minimum": int(field.low or 0),
                "maximum": int(field.high or 0),
            }
        else:
            said |= {"type": "string", "maxLength": MOST_TEXT}
        if field.default is not None and field.kind != "flag":
            said["default"] = str(field.default)
        properties[field.name] = said
        needed = (
            field.least > 0 if field.kind == "rows" else not (field.optional or field.default is not None)
        )
        if needed and field.kind != "flag":
            required.append(field.name)
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}
