"""A descriptor is read without fetching or guessing anything."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.engine.descriptor import (
    depth_of,
    examine,
    examine_path,
    find_descriptor,
    package_for,
    pin,
    read_descriptor,
)
from archive.engine.limits import Limits

SCHEMA = {"fields": [{"name": "string", "type": "string"}]}


def package(**changes: object) -> dict[str, object]:
    resource = {"name": "eggs", "path": "eggs.csv", "schema": SCHEMA} | changes
    return {"resources": [resource]}


def codes(descriptor: dict[str, object]) -> list[str]:
    return [finding.code for finding in examine(descriptor, Limits())]


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("https://example.org/a.csv", "remote-path"),
        ("s3://eggs/a.csv", "remote-path"),
        ("//example.org/a.csv", "remote-path"),
        ("file:///etc/hosts", "remote-path"),
        ("/etc/hosts", "unsafe-path"),
        ("~/a.csv", "unsafe-path"),
        ("../a.csv", "unsafe-path"),
        ("data/../../a.csv", "unsafe-path"),
        ("data\\a.csv", "unsafe-path"),
        ("C:/a.csv", "unsafe-path"),
        (".git/a.csv", "hidden-path"),
        ("data/.a.csv", "hidden-path"),
        ("./a.csv", "hidden-path"),
        ("data//a.csv", "file-name"),
        ("egg strings.csv", "file-name"),
        ("ägg.csv", "file-name"),
        ("$HOME/a.csv", "file-name"),
        ("a\n.csv", "file-name"),
        ("*.csv", "file-name"),
    ],
)
def test_a_path_that_is_not_a_plain_file_of_the_package_is_refused(path, code):
    finding = examine_path(path)
    assert finding is not None
    assert finding.code == code
    assert codes(package(path=path, format="csv")) == [code]


@given(st.text(max_size=12))
def test_any_path_that_passes_stays_inside_and_is_plain(path):
    if path and examine_path(path) is None:
        parts = path.split("/")
        assert path.isascii()
        assert not any(part in {"", ".", ".."} or part.startswith(".") for part in parts)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"profile": "https://example.org/p.json"}, ["remote-path"]),
        ({"profile": "p.json"}, ["unknown-profile"]),
        ({"profile": "tabular-data-resource"}, []),
        ({"dialect": "dialect.json"}, ["not-inline"]),
        ({"dialect": "http://example.org/d.json"}, ["remote-path"]),
        ({"dialect": 3}, ["resource-error"]),
        ({"scheme": "https"}, ["remote-path"]),
        ({"url": "https://example.org/a.csv"}, ["no-file"]),
        ({"data": [["string"]]}, ["no-file"]),
        ({"encoding": "UTF8"}, []),
        ({"encoding": "latin-1"}, ["not-utf-8"]),
        ({"encoding": "klingon"}, ["not-utf-8"]),
        ({"path": "eggs.csv.gz"}, ["compression-error"]),
        ({"path": "eggs.ods"}, ["format-error"]),
        ({"schema": SCHEMA | {"uniqueKeys": ["string"]}}, ["schema-unsound"]),
        ({"schema": SCHEMA | {"uniqueKeys": [["day"]]}}, ["schema-unsound"]),
        ({"schema": {"$schema": "https://example.org/s.json"} | SCHEMA}, ["unknown-profile"]),
    ],
)
def test_what_stands_elsewhere_or_is_not_utf_8_is_refused(changes, expected):
    assert codes(package(**changes)) == expected


@pytest.mark.parametrize(
    ("field", "is_sound"),
    [
        ({"type": "string", "categories": ["a", {"value": "b", "label": "B"}]}, True),
        ({"type": "number", "categories": ["a"]}, False),
        ({"type": "string", "categories": [["a"]]}, False),
        ({"type": "string", "x:role": "animal"}, True),
        ({"type": "string", "x:role": "Animal"}, False),
        ({"type": "string", "constraints": {"pattern": "(a"}}, False),
    ],
)
def test_roles_categories_and_patterns_must_be_sound(field, is_sound):
    schema = {"fields": [{"name": "string"} | field]}
    assert codes(package(schema=schema)) == ([] if is_sound else ["schema-unsound"])


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=5),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    ["name", "path", "schema", "fields", "type", "dialect", "profile", "categories",
                     "uniqueKeys", "constraints", "pattern", "$schema", "encoding", "format"]
                ),
                inner,
                max_size=5,
            )
        ),
        max_leaves=12,
    )
)  # fmt: skip
def test_no_descriptor_whatever_crashes_the_examination(shape):
    for descriptor in ({"resources": shape}, {"resources": [shape]}, {"profile": shape}):
        findings = examine(descriptor, Limits())
        if not findings:
            pin(descriptor)


def test_an_unreadable_descriptor_is_told_with_its_place(tmp_path):
    path = tmp_path / "datapackage.json"
    for content, word in (
        (b"{", "line 1, column 2"),
        (b"[]", "not one JSON object"),
        (b'{"a": NaN}', "NaN"),
        (b'{"a": "\xe5"}', "not UTF-8"),
        (b"[" * 400_000, "nested too deeply"),
        (rb'{"a": "x\u0000y"}', "x\\u0000y"),
        (rb'{"a": [{"\ud800": 1}]}', "one half of a character"),
        (rb'{"\ud800": 1, "\ud800": 2}', "one half of a character"),
    ):
        path.write_bytes(content)
        descriptor, (finding,) = read_descriptor(path, Limits())
        assert descriptor is None
        assert finding.code == "descriptor-unreadable"
        assert word in finding.message


def test_a_sign_that_nothing_can_keep_is_found_in_a_descriptor_that_was_read_elsewhere():
    assert codes({"resources": [{"name": "a\x00"}]}) == ["descriptor-unreadable"]
    assert codes({"title": "\ud800"}) == ["descriptor-unreadable"]
    assert "descriptor-unreadable" not in codes({"title": "\U0001f600"})


def test_a_descriptor_over_its_limits_is_refused_unread(tmp_path):
    path = tmp_path / "datapackage.json"
    path.write_text(json.dumps({"a": "x" * 1_000_000}), encoding="utf-8")
    descriptor, (finding,) = read_descriptor(path, Limits())
    assert (descriptor, finding.code) == (None, "descriptor-too-large")
    assert depth_of({"a": [[[[[[[{}]]]]]]]}) == 9
    assert codes({"a": [[[[[[[{}]]]]]]], "resources": []}) == ["descriptor-too-large"]


def test_the_descriptor_is_found_in_the_one_folder_that_a_zip_often_holds(tmp_path):
    assert find_descriptor(tmp_path) is None
    inner = tmp_path / "my-eggs"
    inner.mkdir()
    (inner / "datapackage.json").write_text("{}", encoding="utf-8")
    assert find_descriptor(tmp_path) == inner / "datapackage.json"
    (tmp_path / "datapackage.json").write_text("{}", encoding="utf-8")
    assert find_descriptor(tmp_path) == tmp_path / "datapackage.json"


def test_pinning_says_all_that_a_reader_would_guess_and_keeps_what_was_said():
    pinned = pin(package(path="eggs.tsv", dialect={"quoteChar": "'", "header": False}))
    (resource,) = pinned["resources"]
    assert resource["encoding"] == "utf-8"
    assert resource["dialect"]["csv"]["delimiter"] == "\t"
    assert resource["dialect"]["csv"]["quoteChar"] == "'"
    assert resource["dialect"]["header"] is False
    assert "headerRows" not in resource["dialect"]


def test_bare_files_are_wrapped_with_the_dictionary_s_own_descriptor():
    dictionary = {
        "name": "eggs",
        "resources": [
            {"name": "egg_strings", "path": "x.csv", "schema": SCHEMA, "hash": "0", "bytes": 1},
            {"name": "hatching", "path": "y.csv", "schema": SCHEMA},
        ],
    }
    wrapped = package_for(dictionary, ["Egg-Strings.CSV"])
    (resource,) = wrapped["resources"]
    assert resource == {"name": "egg_strings", "path": "Egg-Strings.CSV", "schema": SCHEMA}
    named = package_for(dictionary, {"hatching": "march.csv"})
    assert [one["path"] for one in named["resources"]] == ["march.csv"]
    with pytest.raises(LookupError, match="belongs to no table"):
        package_for(dictionary, ["crabs.csv"])
    with pytest.raises(LookupError, match="no table “crabs”"):
        package_for(dictionary, {"crabs": "a.csv"})
    alone = dictionary | {"resources": dictionary["resources"][:1]}
    assert package_for(alone, ["whatever.csv"])["resources"][0]["path"] == "whatever.csv"
