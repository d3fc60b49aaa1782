"""The whole API against what a fuzzer draws from its own schema: nothing of it breaks the site.

Source: the package schemathesis (its generators, not ours), sound inputs and unsound ones, over the
schema that the site itself gives out. The draws are the same in every run; nothing written stays.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Any

import hypothesis
import pytest
import requests
import schemathesis
from hypothesis import HealthCheck, Phase, given
from hypothesis.strategies import sampled_from
from rest_framework.test import APIClient
from schemathesis import Case, GenerationMode

from registry.api import router
from registry.people.actions import make_token
from tests.architecture.test_urls import undone
from tests.registry.test_schema import made
from tests.worlds.callers import SHAPE
from tests.worlds.site import Site, make_site

pytestmark = [pytest.mark.outside, pytest.mark.django_db]

ROLES = ("curator", "its lead supervisor", "its student", "data steward", "administrator")
SENT = ("method", "url", "headers", "params", "json", "data", "files")
drawn = hypothesis.settings(
    max_examples=4,
    derandomize=True,
    database=None,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


def heads_of(site: Site) -> dict[str, dict[str, str]]:
    """Give the heads with which each of the roles calls; a visitor's are none."""
    heads: dict[str, dict[str, str]] = {"a visitor": {}}
    for role in ROLES:
        person = site.people[role]
        secret, _ = make_token(person, name="fuzzer", days=1, scope="deeds", by=person)
        heads[role] = {"Authorization": f"Token {secret}"}
    return heads


def keys_of(site: Site) -> dict[str, Any]:
    """Give, for each list, the key of the site's one example, so that not every draw is unseen."""
    return {
        plural: getattr(site.examples[viewset.queryset.model], viewset.lookup_field)
        for plural, viewset, _ in router.registry
    }


def sent(client: APIClient, case: Case, heads: dict[str, str]) -> Any:
    """Send a drawn case just as it would be written on the wire; nothing where it cannot be."""
    given_: dict[str, Any] = {
        name: value
        for name, value in case.as_transport_kwargs(base_url="http://testserver").items()
        if name in SENT
    }
    given_["headers"] = {**dict(given_.get("headers") or {}), **heads}
    try:
        wire = requests.Request(**given_).prepare()
    except (ValueError, requests.RequestException):
        return None
    said = {name.lower(): value for name, value in wire.headers.items()}
    said.pop("content-length", None)
    sort = said.pop("content-type", "application/json")
    body = wire.body.encode() if isinstance(wire.body, str) else wire.body or b""
    with undone():
        return client.generic(wire.method, wire.path_url, body, content_type=sort, headers=said)


def operations() -> Iterator[Any]:
    for found in schemathesis.openapi.from_dict(made()).get_all_operations():
        yield found.ok()


def test_nothing_that_a_fuzzer_draws_breaks_the_api() -> None:
    site = make_site()
    heads, keys, client = heads_of(site), keys_of(site), APIClient(raise_request_exception=False)
    met: Counter[int] = Counter()
    faults: list[str] = []

    def attack(operation: Any, mode: GenerationMode) -> None:
        @drawn
        @given(
            case=operation.as_strategy(generation_mode=mode),
            role=sampled_from(sorted(heads)),
            is_real=sampled_from([True, True, True, False]),
        )
        def run(case: Case, role: str, is_real: bool) -> None:
            if is_real and case.path_parameters:
                key = keys[case.path.split("/")[3]]
                case.path_parameters = dict.fromkeys(case.path_parameters, key)
            answer = sent(client, case, heads[role])
            if answer is None:
                return
            met[answer.status_code] += 1
            asked = f"{case.method} {case.formatted_path} as {role}: {answer.status_code}"
            if answer.status_code >= 500:
                faults.append(f"{asked} {case.query} {str(case.body)[:300]}")
            elif answer.status_code >= 400 and not set(answer.json()) >= SHAPE:
                faults.append(f"{asked} is not in the one shape: {answer.content[:200]!r}")

        run()

    for operation in operations():
        for mode in GenerationMode:
            attack(operation, mode)
    assert faults == [], "\n" + "\n".join(faults)
    # The draws reach the deeds and the lists, and are not all turned away at the door.
    assert met[200] + met[201] > 50, met
    assert met[422] > 50, met
    assert met[400] > 20, met
    assert sum(met.values()) > 1000, met
