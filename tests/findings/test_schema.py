from __future__ import annotations

from jsonschema import Draft202012Validator

from surgesim.findings.schema import SCHEMA, schema


def test_is_a_schema_of_its_draft() -> None:
    Draft202012Validator.check_schema(schema())
    assert schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_names_itself() -> None:
    assert schema()["properties"]["schema"]["const"] == SCHEMA == "surgesim.findings/1"


def test_every_key_is_required_and_no_other_let_in() -> None:
    def check(part: object) -> None:
        if isinstance(part, dict):
            if "properties" in part:
                assert part["additionalProperties"] is False
                assert part["required"] == list(part["properties"])
            for value in part.values():
                check(value)
        elif isinstance(part, list):
            for value in part:
                check(value)

    check(schema())
