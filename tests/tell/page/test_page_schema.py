"""The server against its own description: whatever is sent is answered as described, never with a fault."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import checks

from tests.tell.page.served import KEY, Phone

# Left out: positive_data_acceptance. A description cannot say which sets are in the book or which edits are
# possible on a face; 404 and 422 with a remedy are then the right answers.
CHECKS = (
    checks.not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_schema_conformance,
)


@pytest.fixture(scope="module")
def description(phone: Phone) -> Any:
    return schemathesis.openapi.from_url(
        f"{phone.address}/api/v1/openapi.json", headers={"x-facemark-key": KEY}
    )


def test_every_answer_is_as_described(description: Any) -> None:
    operations = [found.ok() for found in description.get_all_operations()]
    assert len(operations) > 15
    for operation in operations:

        @settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
        @given(case=operation.as_strategy())
        def ask(case: Any) -> None:
            answer = case.call(headers={"x-facemark-key": KEY})
            case.validate_response(answer, checks=CHECKS)

        ask()


def test_every_path_wants_the_key(phone: Phone) -> None:
    paths = phone.get("/openapi.json").json()["paths"]
    assert len(paths) > 12
    for path, methods in paths.items():
        for method in methods:
            answer = phone.client.request(method, path.replace("{", "").replace("}", ""))
            assert answer.status_code == 401, (method, path)
