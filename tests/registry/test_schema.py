"""The API's own description: it is made without a warning, and leaves no deed out."""

import json
from typing import Any

import pytest
from django.urls import get_resolver
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema

from registry.api import router
from registry.rest import ObjectViewSet
from registry.web import OFFERED_ON, Deed

LOOKS = {"400", "401", "403", "404"}
DEEDS = LOOKS | {"409", "413", "415", "422", "507"}


def made() -> dict[str, Any]:
    GENERATOR_STATS.reset()
    schema = SchemaGenerator().get_schema(request=None, public=True)
    said: dict[str, Any] = json.loads(json.dumps(schema, default=str))
    return said


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    get_resolver()._populate()
    return made()


def offered() -> list[tuple[str, Deed]]:
    """Give the path of every deed that the view sets offer, with the deed."""
    found = []
    for plural, viewset, _ in router.registry:
        if not issubclass(viewset, ObjectViewSet):
            continue
        key = "number" if viewset.lookup_field == "number" else "id"
        found += [(f"/api/v1/{plural}/{{{key}}}/{p}/", deed) for p, deed in viewset.deeds.items()]
        if viewset.creates is not None:
            found.append((f"/api/v1/{plural}/", viewset.creates))
    return found


def shape_of(schema: dict[str, Any], operation: dict[str, Any]) -> dict[str, Any]:
    """Give the described input of an operation."""
    sent = operation["requestBody"]["content"]["application/json"]["schema"]
    name = sent.get("$ref", "").rpartition("/")[2]
    found: dict[str, Any] = schema["components"]["schemas"][name] if name else sent
    return found


def test_the_schema_is_made_without_a_warning_and_is_sound() -> None:
    validate_schema(made())
    assert dict(GENERATOR_STATS._warn_cache) == {}
    assert dict(GENERATOR_STATS._error_cache) == {}


def test_every_deed_offered_is_in_the_schema_with_each_field_of_its_form(
    schema: dict[str, Any],
) -> None:
    faults, looked = [], 0
    for path, deed in offered():
        operation = schema["paths"].get(path, {}).get("post")
        if operation is None:
            faults.append(f"{path} is missing")
            continue
        looked += 1
        wanted = deed.form.base_fields
        if not wanted:
            continue
        shape = shape_of(schema, operation)
        if set(shape["properties"]) != set(wanted):
            faults.append(f"{path}: {sorted(shape['properties'])}, not {sorted(wanted)}")
        must = {name for name, field in wanted.items() if field.required}
        if set(shape.get("required", [])) != must:
            faults.append(f"{path} must have {shape.get('required')}, not {sorted(must)}")
        faults += [
            f"{path}: nothing is said of {name}"
            for name, told in shape["properties"].items()
            if not told.get("description")
        ]
    assert faults == [], "\n".join(faults)
    assert looked > 80


def test_every_deed_that_has_a_button_has_an_address_in_the_api() -> None:
    by_model: dict[Any, set[str]] = {
        viewset.queryset.model: set(viewset.deeds)
        for _, viewset, _ in router.registry
        if issubclass(viewset, ObjectViewSet) and viewset.queryset is not None
    }
    assert len(OFFERED_ON) > 10
    for model, by_name in OFFERED_ON.items():
        paths = {path for deeds in by_name.values() for path in deeds}
        assert paths <= by_model[model], model


def test_every_operation_tells_of_its_refusals_in_the_one_shape(schema: dict[str, Any]) -> None:
    for path, methods in schema["paths"].items():
        for method, operation in methods.items():
            told = {
                code: answer["content"]["application/json"]["schema"]
                for code, answer in operation["responses"].items()
                if int(code) >= 400
            }
            assert set(told) >= (DEEDS if method == "post" else LOOKS), (path, method)
            assert {each["$ref"] for each in told.values()} == {"#/components/schemas/Refusal"}
    shape = schema["components"]["schemas"]["Refusal"]
    assert set(shape["required"]) == {"code", "what", "why", "next"}
    assert set(shape["properties"]) == {"code", "what", "why", "next", "fields"}


def test_the_schema_names_choices_bounds_files_and_what_a_deed_gives(
    schema: dict[str, Any],
) -> None:
    shapes = schema["components"]["schemas"]
    take_on = shapes["QuestionsTakeOnRequest"]["properties"]
    assert "doctoral" in take_on["level"]["description"]
    assert take_on["reason"]["maxLength"] == 4000
    files = shapes["ArchiveAddFileRequest"]["properties"]["files"]
    assert files["items"]["format"] == "binary"
    deposit = schema["paths"]["/api/v1/projects/{id}/deposit/"]["post"]["responses"]["201"]
    assert deposit["content"]["application/json"]["schema"]["$ref"].endswith("/Deposit")


def test_the_schema_says_how_to_sign_in(schema: dict[str, Any]) -> None:
    assert set(schema["components"]["securitySchemes"]) == {"token", "cookieAuth"}
    assert {"token": []} in schema["paths"]["/api/v1/animals/"]["get"]["security"]
