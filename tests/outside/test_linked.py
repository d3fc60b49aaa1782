"""A version's linked data and typed links, read by what others wrote: rdflib and requests."""

import hashlib
import json
import re
from datetime import timedelta
from functools import cache
from html import unescape
from importlib.resources import files as files_of
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from dwca.darwincore.utils import qualname
from pyshacl import validate
from rdflib import Graph, Literal, Namespace, URIRef
from rdflib.namespace import RDF, SH
from requests.utils import parse_header_links

from archive.models import Version
from registry.permissions import Role
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import descriptor, make_dictionary, make_version
from tests.worlds.people import make_person
from tests.worlds.projects import make_study

pytestmark = [
    pytest.mark.outside,
    pytest.mark.django_db,
    # rdflib 7 reads JSON-LD through its own older graph.
    pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated:DeprecationWarning"),
]

SCHEMA = Namespace("https://schema.org/")


def read(text: str) -> Graph:
    """Read linked data, whole in itself: nothing is fetched."""
    return Graph().parse(data=text, format="json-ld")


def faults_by_shapes(text: str) -> list[str]:
    """Hold a page's linked data against the shapes of Science on Schema.org 1.2.3.

    They are the package soso's; they ask for the vocabulary's older address, which means the same.
    """
    shapes = Graph().parse(str(files_of("soso") / "data" / "soso_common_v1.2.3.ttl"))
    graph = read(text.replace(str(SCHEMA), "http://schema.org/"))
    _conforms, told, _words = validate(graph, shacl_graph=shapes)
    return [str(one) for one in told.objects(None, SH.resultMessage)]


@cache
def vocabulary() -> dict[str, Any]:
    """Give the terms of schema.org, from its own file, which the package rocrate carries."""
    text = (files_of("rocrate") / "data" / "schema.jsonld").read_text(encoding="utf-8")
    return {one["@id"]: one for one in json.loads(text)["@graph"]}


def named(term: str, key: str) -> set[str]:
    """Give the terms to which one of a term's properties leads."""
    told = vocabulary()[f"schema:{term}"].get(key, [])
    listed = told if isinstance(told, list) else [told]
    return {one["@id"].removeprefix("schema:") for one in listed}


def kinds_of(term: str) -> set[str]:
    """Give a type and all that it is a kind of."""
    above = (kinds_of(one) for one in named(term, "rdfs:subClassOf") if "rdfs:" not in one)
    return {term}.union(*above)


LITERALS = {str: {"Text", "URL", "Date", "DateTime"}, bool: {"Boolean"}, int: {"Number", "Integer"}}


def faults_by_the_vocabulary(node: dict[str, Any]) -> list[str]:
    """Say which terms are unknown, belong to another type, or hold what they may not."""
    own, found = kinds_of(node["@type"]), []
    for name, value in node.items():
        if name.startswith("@"):
            continue
        if f"schema:{name}" not in vocabulary():
            found.append(f"{name} is no term")
            continue
        if not named(name, "schema:domainIncludes") & own:
            found.append(f"{name} is nothing of {node['@type']}")
        may_be = named(name, "schema:rangeIncludes")
        for one in value if isinstance(value, list) else [value]:
            is_node = isinstance(one, dict)
            if not may_be & (kinds_of(one["@type"]) if is_node else LITERALS[type(one)]):
                found.append(f"{name} may not be {one}")
            found += faults_by_the_vocabulary(one) if is_node else []
    return found


def path_of(address: Any) -> str:
    """Give the path of one of the site's own addresses."""
    assert str(address).startswith(settings.SITE_ADDRESS)
    return str(address).removeprefix(settings.SITE_ADDRESS)


def body(response: Any) -> bytes:
    return b"".join(response.streaming_content) if response.streaming else response.content


def test_linked_data_and_links_lead_a_program_from_the_page_to_the_bytes(client: Client) -> None:
    study = make_study()
    whole = descriptor()
    # Darwin Core where the dictionary maps it; the term's name by python-dwca-reader.
    whole["title"] = "Scans </script> of rays & friends"
    whole["resources"][0]["schema"]["fields"][2]["rdfType"] = qualname("eventDate")
    make_dictionary(study, **whole)
    version = make_version(project=make_collecting(study=study).project)
    page = client.get(version.get_absolute_url())
    (block,) = re.findall(
        r'<script type="application/ld\+json">(.*?)</script>', page.content.decode(), re.DOTALL
    )
    graph = read(block)
    (told,) = graph.subjects(RDF.type, SCHEMA.Dataset)
    assert graph.value(told, SCHEMA.name) == Literal(version.dataset.title)
    assert graph.value(told, SCHEMA.license) in {
        Literal("https://creativecommons.org/licenses/by/4.0/"),
        URIRef("https://creativecommons.org/licenses/by/4.0/"),
    }
    assert {str(one) for one in graph.objects(told, SCHEMA.identifier)} >= {version.identifier}
    terms = {str(one) for one in graph.objects(None, SCHEMA.propertyID)}
    assert "http://rs.tdwg.org/dwc/terms/eventDate" in terms
    units = {str(one) for one in graph.objects(None, SCHEMA.unitText)}
    assert units == {"m"}
    whole = json.loads(unescape(block))
    assert faults_by_the_vocabulary(whole) == []
    odd = {**whole, "weight": "3", "title": "Rays", "publisher": 3}
    told_of = {one.split()[0] for one in faults_by_the_vocabulary(odd)}
    assert told_of == {"weight", "title", "publisher"}
    assert faults_by_shapes(block) == []
    assert len(faults_by_shapes(block.replace('"keywords"', '"about"'))) == 1
    files = list(graph.subjects(RDF.type, SCHEMA.DataDownload))
    assert len(files) == 2
    for one in files:
        taken = body(client.get(path_of(graph.value(one, SCHEMA.contentUrl))))
        digest = graph.value(one, SCHEMA.sha256)
        assert digest is None or str(digest) == hashlib.sha256(taken).hexdigest()
    alone = client.get(f"{version.get_absolute_url()}citation.jsonld")
    assert alone["Content-Type"] == "application/ld+json"
    assert read(alone.content.decode()).isomorphic(graph)
    _follow(client, page, version)


def _follow(client: Client, page: Any, version: Version) -> None:
    """Go where the typed links of a page lead."""
    links = parse_header_links(page["Link"])
    rels = {one["rel"] for one in links}
    assert rels == {"cite-as", "type", "license", "describedby", "item", "linkset"}
    (cited,) = [one["url"] for one in links if one["rel"] == "cite-as"]
    assert client.get(path_of(cited))["Location"] == version.get_absolute_url()
    for one in links:
        if one["rel"] in {"describedby", "item", "linkset"}:
            answer = client.get(path_of(one["url"]))
            assert answer.status_code == 200
            assert answer["Content-Type"].partition(";")[0] == one["type"]
            body(answer)
    (listed,) = [one["url"] for one in links if one["rel"] == "linkset"]
    first = client.get(path_of(listed)).json()["linkset"][0]
    assert first["anchor"] == f"{settings.SITE_ADDRESS}{version.get_absolute_url()}"
    told = {(rel, one["href"]) for rel, some in first.items() if rel != "anchor" for one in some}
    assert told == {(one["rel"], one["url"]) for one in links if one["rel"] != "linkset"}
    in_page = re.findall(r'<link rel="([a-z-]+)" href="([^"]+)"', page.content.decode())
    assert told <= {(rel, unescape(href)) for rel, href in in_page}


def test_closed_files_are_not_named_and_a_withdrawn_version_says_that_it_is(
    client: Client,
) -> None:
    until = timezone.localdate() + timedelta(days=9)
    version = make_version(access="embargoed", terms={"embargoed_until": until})
    home = version.get_absolute_url()
    graph = read(client.get(f"{home}citation.jsonld").content.decode())
    assert not list(graph.subjects(RDF.type, SCHEMA.DataDownload))
    assert "item" not in {one["rel"] for one in parse_header_links(client.get(home)["Link"])}
    client.force_login(make_person(Role.STEWARD))
    graph = read(client.get(f"{home}citation.jsonld").content.decode())
    assert len(list(graph.subjects(RDF.type, SCHEMA.DataDownload))) == 2
    Version.objects.filter(pk=version.pk).update(
        state="withdrawn", ground="faulty", withdrawn_at=timezone.now()
    )
    for part in ("citation.jsonld", "linkset.json"):
        assert client.get(f"{home}{part}").status_code == 410
