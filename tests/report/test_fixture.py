"""The invented findings these tests print are findings: they obey the published schema."""

from types import SimpleNamespace

import jsonschema

from surgesim.findings.schema import schema


def test_the_findings_of_these_tests_obey_the_schema(kit: SimpleNamespace) -> None:
    for findings in (kit.build_dairy(), kit.build_many(6), kit.build_single()):
        jsonschema.validate(findings, schema())
