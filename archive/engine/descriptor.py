"""Safe reading of datapackage.json: nothing is fetched or guessed, nothing leaves the folder.

Data Package 1.0 and 2.0 (told apart by ``$schema``) are both read. The profiles themselves are
checked by frictionless; this module does what it does not: refuse addresses, foreign paths and
hidden files, and pin encoding and layout so that no reader has to guess.

References
----------
Data Package 2.0, "Security" of the Data Resource page (datapackage.org/standard/data-resource):
no address in an upload service, no absolute and no parent path, no hidden folder.
"""

import codecs
import copy
import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.limits import Limits
from archive.engine.roles import FIELD_ID, ROLE, UNIT, FieldRole, fields_of, role_of
from registry.guarded.sizes import size

Descriptor = dict[str, Any]

NAME = "datapackage.json"
PROFILE = re.compile(r"https://datapackage\.org/profiles/[12]\.\d+/[a-z]+\.json")
KNOWN_PROFILES = frozenset(
    {"data-package", "tabular-data-package", "data-resource", "tabular-data-resource"}
)
DELIMITERS = {"csv": ",", "tsv": "\t"}
WORKBOOKS = frozenset({"xlsx", "xls", "xlsm", "xlsb", "ods"})
FLAT_LAYOUT = (
    "delimiter",
    "lineTerminator",
    "quoteChar",
    "doubleQuote",
    "escapeChar",
    "nullSequence",
    "skipInitialSpace",
)
_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+:|//|\\\\")
_PLAIN = re.compile(r"[A-Za-z0-9._/-]+")


# ------------------------------------------------------------------ reading


def find_descriptor(folder: Path) -> Path | None:
    """Find datapackage.json in the folder, or in the one folder that it holds."""
    return find_named(folder, NAME)


def find_named(folder: Path, name: str) -> Path | None:
    """Find a file in the folder, or in the one folder that it holds, as a zip often comes."""
    if (folder / name).is_file():
        return folder / name
    inner = [entry for entry in folder.iterdir() if not entry.name.startswith(".")]
    if len(inner) == 1 and inner[0].is_dir() and (inner[0] / name).is_file():
        return inner[0] / name
    return None


def read_descriptor(path: Path, limits: Limits) -> tuple[Descriptor | None, list[Finding]]:
    """Read the descriptor as JSON, within the limits of size and depth.

    Returns
    -------
    descriptor, findings
        The descriptor is None where it could not be read; the findings then say why.
    """
    try:
        size_now = path.stat().st_size
        if size_now > limits.descriptor_bytes:
            return None, [
                found(
                    "descriptor-too-large",
                    f"{path.name} is {size(size_now)}; the limit is"
                    f" {size(limits.descriptor_bytes)}.",
                )
            ]
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as fault:
        return None, [_unreadable(f"{path.name} could not be opened: {fault.strerror}.")]
    except UnicodeDecodeError as fault:
        return None, [_unreadable(f"{path.name} is not UTF-8: byte {fault.start + 1} is no text.")]
    return parse_descriptor(text, path.name)


def parse_descriptor(text: str, name: str = NAME) -> tuple[Descriptor | None, list[Finding]]:
    """Read a descriptor out of its text; where it cannot be read, the findings say why."""
    twice: list[str] = []
    try:
        shape = json.loads(text, object_pairs_hook=_once(twice), parse_constant=_no_constant)
    except json.JSONDecodeError as fault:
        where = f"line {fault.lineno}, column {fault.colno}"
        return None, [_unreadable(f"{name} is not JSON: {fault.msg} at {where}.")]
    except RecursionError:
        return None, [_unreadable(f"{name} is nested too deeply to be read.")]
    except ValueError as fault:
        return None, [_unreadable(f"{name} is not sound JSON: {fault}.")]
    if not isinstance(shape, dict):
        return None, [_unreadable(f"{name} is not one JSON object.")]
    if (odd := _unkeepable(shape)) is not None:
        return None, [odd]
    return shape, [
        found("duplicate-property", f"“{one}” is written twice in one object.", value=one)
        for one in twice
    ]


_UNKEEPABLE = re.compile("[\x00\ud800-\udfff]")


def _unkeepable(shape: object) -> Finding | None:
    """Find a sign that JSON can spell, and that neither a file nor a database can keep."""
    waiting = [shape]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting += [*value, *value.values()]
        elif isinstance(value, list):
            waiting += value
        elif isinstance(value, str) and _UNKEEPABLE.search(value):
            said = value[:80].encode("ascii", "backslashreplace").decode("ascii")
            said = said.replace("\0", "\\u0000")
            return _unreadable(f"A NUL sign or one half of a character stands in “{said}”.")
    return None


def _unreadable(message: str) -> Finding:
    return found("descriptor-unreadable", message)


def _once(twice: list[str]) -> Any:
    def gather(pairs: list[tuple[str, Any]]) -> Descriptor:
        shape: Descriptor = {}
        for name, value in pairs:
            if name in shape:
                twice.append(name)
            shape[name] = value
        return shape

    return gather


def _no_constant(name: str) -> None:
    message = f"{name} is no JSON value"
    raise ValueError(message)


def depth_of(shape: object) -> int:
    """How deep objects and lists are nested; a plain value has depth 0.

    >>> depth_of({"resources": [{"name": "egg_strings"}]})
    3
    """
    deepest, waiting = 0, [(shape, 1)]
    while waiting:
        value, depth = waiting.pop()
        if isinstance(value, dict | list):
            deepest = max(deepest, depth)
            inner = value.values() if isinstance(value, dict) else value
            waiting.extend((item, depth + 1) for item in inner)
    return deepest


# ------------------------------------------------------------------ what a resource is


def is_table(resource: Mapping[str, Any]) -> bool:
    """Whether the entry is a table (said so, described by a schema, or by its file's ending)."""
    return (
        resource.get("type") == "table"
        or resource.get("profile") == "tabular-data-resource"
        or "schema" in resource
        or file_format(resource) in DELIMITERS
    )


def file_format(resource: Mapping[str, Any]) -> str:
    """The declared format, else the ending of the file's name, in small letters."""
    declared = resource.get("format")
    if isinstance(declared, str) and declared:
        return declared.lower()
    path = resource.get("path")
    return PurePosixPath(path).suffix.lower().lstrip(".") if isinstance(path, str) else ""


# ------------------------------------------------------------------ what is refused


def too_deep(descriptor: object, limits: Limits) -> Finding | None:
    """Give the finding for a descriptor that is nested too deeply to be looked through."""
    depth = depth_of(descriptor)
    if depth <= limits.descriptor_depth:
        return None
    return found(
        "descriptor-too-large",
        f"The descriptor is nested {depth} levels deep; the limit is {limits.descriptor_depth}.",
    )


def examine(descriptor: Descriptor, limits: Limits) -> list[Finding]:
    """Refuse what is unsafe or unsound in a descriptor, before any other reader sees it.

    A finding here means that the tables are not opened.
    """
    unfit = too_deep(descriptor, limits) or _unkeepable(descriptor)
    if unfit is not None:
        return [unfit]
    findings = list(_examine_profiles(descriptor, ""))
    resources = descriptor.get("resources")
    if not isinstance(resources, list) or not resources:
        message = "The descriptor lists no files: “resources” must be a list with at least one."
        return [*findings, found("package-error", message)]
    if len(resources) > limits.package_files:
        message = f"The package lists {len(resources):,} files; the limit is"
        findings.append(found("package-too-large", f"{message} {limits.package_files:,}."))
    for number, resource in enumerate(resources, start=1):
        if not isinstance(resource, dict):
            findings.append(found("resource-error", f"Entry {number} is not an object."))
            continue
        findings += _examine_resource(resource, number, limits)
    good = [resource for resource in resources if isinstance(resource, dict)]
    findings += _examine_twins(good)
    return findings


def _examine_profiles(part: Mapping[str, Any], table: str) -> Iterator[Finding]:
    profile = part.get("profile")
    if profile is not None and str(profile) not in KNOWN_PROFILES:
        code = "remote-path" if _is_address(profile) else "unknown-profile"
        message = f"The profile “{profile}” is not known here, and none is fetched."
        yield found(code, message, table=table, value=profile)
    schema = part.get("$schema")
    if schema is not None and not (isinstance(schema, str) and PROFILE.fullmatch(schema)):
        message = f"“$schema” is “{schema}”; it must name a profile of Data Package 1.0 or 2.0."
        yield found("unknown-profile", message, table=table, value=schema)


def _examine_resource(
    resource: Mapping[str, Any], number: int, limits: Limits
) -> Iterator[Finding]:
    name = resource.get("name")
    table = name if isinstance(name, str) and name else f"entry {number}"
    yield from _examine_profiles(resource, table)
    yield from _examine_source(resource, table)
    for part in ("schema", "dialect"):
        value = resource.get(part)
        if isinstance(value, str):
            code = "remote-path" if _is_address(value) else "not-inline"
            message = f"The {part} of “{table}” is “{value}”, which stands elsewhere."
            yield found(code, message, table=table, value=value)
        elif isinstance(value, dict):
            yield from _examine_profiles(value, table)
        elif value is not None:
            yield found("resource-error", f"The {part} of “{table}” is no object.", table=table)
    yield from _examine_format(resource, table)
    if is_table(resource) and isinstance(resource.get("schema"), dict):
        yield from _examine_schema(resource["schema"], table, limits)


def _examine_source(resource: Mapping[str, Any], table: str) -> Iterator[Finding]:
    path = resource.get("path")
    if not isinstance(path, str) or not path:
        what = "in several parts" if isinstance(path, list) else "without a path to a file"
        yield found("no-file", f"“{table}” is described {what}.", table=table, value=path or "")
    else:
        finding = examine_path(path, table)
        if finding:
            yield finding
    for key in ("data", "url", "extrapaths", "innerpath"):
        if key in resource:
            message = f"“{table}” holds “{key}”; only one plain file for each table is read."
            yield found("no-file", message, table=table, value=key)
    scheme = resource.get("scheme")
    if scheme is not None and scheme != "file":
        message = f"“{table}” is to be read by “{scheme}”; nothing is fetched."
        yield found("remote-path", message, table=table, value=scheme)
    if resource.get("compression"):
        message = f"“{table}” is compressed ({resource['compression']})."
        yield found("compression-error", message, table=table, value=resource["compression"])


def _examine_format(resource: Mapping[str, Any], table: str) -> Iterator[Finding]:
    encoding = resource.get("encoding")
    if encoding is not None and not is_utf8(encoding):
        message = f"“{table}” is declared as “{encoding}”; only UTF-8 is kept."
        yield found("not-utf-8", message, table=table, value=encoding)
    kind = file_format(resource)
    if kind in {"zip", "gz", "bz2", "xz"} and is_table(resource):
        yield found("compression-error", f"“{table}” is compressed ({kind}).", table=table)
    elif kind in WORKBOOKS or (is_table(resource) and kind not in DELIMITERS):
        message = f"“{table}” is a {kind or 'nameless'} file; a table is a CSV or TSV file."
        yield found("format-error", message, table=table, value=kind)
    elif is_table(resource) and "schema" not in resource:
        yield found("no-schema", f"“{table}” has no schema.", table=table)


def _is_address(value: object) -> bool:
    return isinstance(value, str) and _ADDRESS.match(value) is not None


def is_utf8(encoding: object) -> bool:
    """Whether a declared encoding is UTF-8 under one of its names."""
    try:
        return codecs.lookup(str(encoding)).name in {"utf-8", "utf-8-sig"}
    except LookupError:
        return False


def examine_path(path: str, table: str = "") -> Finding | None:
    """Refuse a path that is an address, leaves the package, is hidden, or has signs not allowed.

    >>> examine_path("../../etc/hosts").code
    'unsafe-path'
    >>> examine_path("data/egg-strings.csv") is None
    True
    """
    if _is_address(path):
        message = f"“{path}” is an address; a package holds its own files."
        return found("remote-path", message, table=table, value=path)
    parts = path.split("/")
    if path.startswith(("/", "~")) or "\\" in path or ".." in parts or re.match("[A-Za-z]:", path):
        message = f"“{path}” leads out of the package."
        return found("unsafe-path", message, table=table, value=path)
    if any(part.startswith(".") for part in parts):
        message = f"“{path}” goes through a hidden file or folder."
        return found("hidden-path", message, table=table, value=path)
    if "" in parts or not _PLAIN.fullmatch(path):
        odd = sorted(set(_PLAIN.sub("", path))) or ["an empty folder name"]
        message = f"The file name “{path}” holds {', '.join(f'“{sign}”' for sign in odd)}."
        return found("file-name", message, table=table, value=path)
    return None


def _examine_twins(resources: list[Descriptor]) -> Iterator[Finding]:
    names: set[str] = set()
    paths: dict[str, str] = {}
    seen: set[str] = set()
    for resource in resources:
        name, path = resource.get("name"), resource.get("path")
        if isinstance(name, str):
            if name in names:
                message = f"Two entries are called “{name}”."
                yield found("duplicate-name", message, table=name, value=name)
            names.add(name)
        if isinstance(path, str):
            earlier = paths.setdefault(path.casefold(), path)
            if earlier != path:
                message = f"“{path}” and “{earlier}” differ only in capitals."
                yield found("case-twin", message, table=str(name), value=path)
            elif path in seen:
                message = f"“{path}” is described more than once."
                yield found("duplicate-path", message, table=str(name), value=path)
            seen.add(path)


# ------------------------------------------------------------------ the parts frictionless skips


def _examine_schema(schema: Descriptor, table: str, limits: Limits) -> Iterator[Finding]:
    fields = fields_of(schema)
    if len(fields) > limits.columns:
        message = f"“{table}” has {len(fields):,} columns; the limit is {limits.columns:,}."
        yield found("table-too-large", message, table=table)
    for field in fields:
        yield from _examine_field(field, table)
    names = {field["name"] for field in fields}
    keys = schema.get("uniqueKeys", [])
    if not isinstance(keys, list) or not all(map(_is_names, keys)):
        message = f"“uniqueKeys” of “{table}” must be a list of lists of column names."
        yield found("schema-unsound", message, table=table)
        return
    for name in (name for key in keys for name in key if name not in names):
        message = f"“uniqueKeys” of “{table}” names the column “{name}”, which there is not."
        yield found("schema-unsound", message, table=table, field=str(name))


def _is_names(key: object) -> bool:
    return isinstance(key, list) and bool(key) and all(isinstance(name, str) for name in key)


def _examine_field(field: Descriptor, table: str) -> Iterator[Finding]:
    constraints = field.get("constraints")
    name = str(field.get("name", ""))
    if ROLE in field and role_of(field) is None:
        message = f"Column “{name}” has the role “{field[ROLE]}”; the roles are"
        roles = ", ".join(FieldRole)
        yield found("schema-unsound", f"{message} {roles}.", table=table, field=name)
    pattern = constraints.get("pattern") if isinstance(constraints, dict) else None
    if isinstance(pattern, str) and not _is_pattern(pattern):
        message = f"The pattern of column “{name}” is no regular expression: {pattern}"
        yield found("schema-unsound", message, table=table, field=name, value=pattern)
    categories = field.get("categories")
    if categories is None:
        return
    if str(field.get("type", "string")) not in {"string", "integer"}:
        message = f"Column “{name}” has categories, which only texts and whole numbers may have."
        yield found("schema-unsound", message, table=table, field=name)
    elif not isinstance(categories, list) or not all(
        isinstance(item, str | int) or (isinstance(item, dict) and "value" in item)
        for item in categories
    ):
        message = f"The categories of column “{name}” must be a list of values."
        yield found("schema-unsound", message, table=table, field=name)


def _is_pattern(pattern: str) -> bool:
    try:
        re.compile(pattern)
    except (re.error, OverflowError, RecursionError):
        return False
    return True


def untyped_fields(schema: Mapping[str, Any], table: str) -> Iterator[Finding]:
    """Say which columns have no type: the standard's default and its readers differ on them."""
    for field in fields_of(schema):
        if "type" not in field:
            message = f"Column “{field['name']}” has no type."
            yield found("missing-type", message, table=table, field=str(field["name"]))


# ------------------------------------------------------------------ pinning


def pin(descriptor: Descriptor) -> Descriptor:
    """Give a copy in which encoding, format and layout are said, so that nothing is guessed.

    A reader left to itself guesses the encoding from the first 100 kB and the delimiter and the
    header from the first 100 lines.
    """
    pinned = copy.deepcopy(descriptor)
    for resource in pinned["resources"]:
        resource["encoding"] = "utf-8"
        resource["scheme"] = "file"
        if is_table(resource):
            kind = file_format(resource)
            resource["type"] = "table"
            resource["format"] = kind
            resource["dialect"] = pin_layout(resource.get("dialect") or {}, kind)
        else:
            resource["type"] = "file"
    return pinned


def pin_layout(dialect: Mapping[str, Any], kind: str) -> Descriptor:
    """Give the dialect with each choice of the CSV reader written out."""
    layout = {key: value for key, value in dialect.items() if key not in FLAT_LAYOUT}
    inner = dialect.get("csv")
    said = dict(inner) if isinstance(inner, dict) else {}
    said |= {key: dialect[key] for key in FLAT_LAYOUT if dialect.get(key) is not None}
    layout["csv"] = {
        "delimiter": DELIMITERS.get(kind, ","),
        "quoteChar": '"',
        "skipInitialSpace": False,
        "lineTerminator": "\r\n",
    } | said
    if layout.get("header", True) is not False:
        layout.setdefault("headerRows", [1])
    return layout


def package_for(descriptor: Descriptor, files: Mapping[str, str] | list[str]) -> Descriptor:
    """Wrap bare files with the dictionary's own descriptor.

    Parameters
    ----------
    descriptor : dict
        The dictionary's descriptor: its resources are the tables it knows.
    files : mapping of table name to file name, or list of file names
        A list is matched by the file's name without its ending, in any case, with hyphen and
        underscore alike; the only file goes with the only table.

    Returns
    -------
    dict
        A descriptor of the named tables alone, each with its file as path.

    Raises
    ------
    LookupError
        When a file belongs to no table, or a table is not in the dictionary.
    """
    tables = {str(resource["name"]): resource for resource in descriptor["resources"]}
    if not isinstance(files, Mapping):
        files = _match(list(tables), list(files))
    package = {key: copy.deepcopy(value) for key, value in descriptor.items() if key != "resources"}
    package["resources"] = []
    for table, name in files.items():
        if table not in tables:
            message = f"The dictionary has no table “{table}”; it has {', '.join(sorted(tables))}."
            raise LookupError(message)
        resource = copy.deepcopy(tables[table])
        for said in ("hash", "bytes", "rows", "fields"):
            resource.pop(said, None)
        package["resources"].append(resource | {"path": name})
    return package


def _match(tables: list[str], files: list[str]) -> dict[str, str]:
    if len(tables) == len(files) == 1:
        return {tables[0]: files[0]}
    plain = {table.casefold().replace("-", "_"): table for table in tables}
    matched: dict[str, str] = {}
    for name in files:
        stem = PurePosixPath(name).stem.casefold().replace("-", "_")
        if stem not in plain:
            message = f"“{name}” belongs to no table; the dictionary has {', '.join(tables)}."
            raise LookupError(message)
        matched[plain[stem]] = name
    return matched


# ------------------------------------------------------------------ against the dictionary

_FIELD_MEANING = (
    "type",
    "format",
    "constraints",
    "missingValues",
    "decimalChar",
    "groupChar",
    "bareNumber",
    "trueValues",
    "falseValues",
    "delimiter",
    "itemType",
)
_FIELD_OURS = ("categories", UNIT, ROLE, FIELD_ID)
_TABLE_MEANING = ("missingValues", "fieldsMatch", "primaryKey", "uniqueKeys", "foreignKeys")
_DEFAULTS: dict[str, Any] = {
    "type": "string",
    "format": "default",
    "constraints": {},
    "fieldsMatch": "exact",
    "missingValues": [""],
    "primaryKey": [],
    "uniqueKeys": [],
    "foreignKeys": [],
}


def hold_against(descriptor: Descriptor, expected: Descriptor) -> tuple[Descriptor, list[Finding]]:
    """Compare the package with the dictionary, and put the dictionary's schemas in its place.

    The dictionary rules: tables are checked by its schemas whatever the package says, so that a
    looser descriptor cannot let a fault through.

    Returns
    -------
    descriptor, findings
        A copy with the dictionary's schemas, and each difference of meaning.
    """
    held = copy.deepcopy(descriptor)
    theirs = {resource.get("name"): resource for resource in held["resources"]}
    wanted = {str(resource["name"]): resource for resource in expected["resources"]}
    findings: list[Finding] = []
    for name, resource in wanted.items():
        if not isinstance(resource.get("schema"), dict):
            continue
        if name not in theirs:
            message = f"The dictionary has a table “{name}”; the package has not."
            findings.append(found("missing-table", message, table=name))
            continue
        ours = theirs[name].get("schema")
        if isinstance(ours, dict):
            findings += _differences(name, ours, resource["schema"])
        theirs[name]["schema"] = copy.deepcopy(resource["schema"])
    for name, resource in theirs.items():
        if is_table(resource) and name not in wanted:
            message = f"The dictionary has no table “{name}”."
            findings.append(found("extra-table", message, table=str(name)))
    return held, findings


def _differences(table: str, ours: Descriptor, wanted: Descriptor) -> Iterator[Finding]:
    mine = {field["name"]: field for field in fields_of(ours)}
    for field in fields_of(wanted):
        name = field["name"]
        if name not in mine:
            message = f"The package does not describe column “{name}” of “{table}”."
            yield found("schema-differs", message, table=table, field=name)
            continue
        for key in _unlike(mine[name], field, _FIELD_MEANING, _FIELD_OURS):
            message = (
                f"Column “{name}” of “{table}” has another “{key}” than the dictionary:"
                f" {mine[name].get(key, 'none')} instead of {field.get(key, 'none')}."
            )
            yield found("schema-differs", message, table=table, field=name, value=key)
    for name in mine.keys() - {field["name"] for field in fields_of(wanted)}:
        message = f"The package describes a column “{name}” that the dictionary does not have."
        yield found("schema-differs", message, table=table, field=name)
    for key in _unlike(ours, wanted, _TABLE_MEANING, ()):
        message = f"“{table}” has another “{key}” than the dictionary."
        yield found("schema-differs", message, table=table, value=key)


def _unlike(
    ours: Descriptor, wanted: Descriptor, always: tuple[str, ...], if_said: tuple[str, ...]
) -> list[str]:
    keys = [*always, *(key for key in if_said if key in ours)]
    return [key for key in keys if _plain(ours, key) != _plain(wanted, key)]


def _plain(part: Descriptor, key: str) -> object:
    value = part.get(key, _DEFAULTS.get(key))
    if key == "primaryKey" and isinstance(value, str):
        return [value]
    if key in {"categories", "missingValues"} and isinstance(value, list):
        return [item.get("value") if isinstance(item, dict) else item for item in value]
    if key == "foreignKeys" and isinstance(value, list):
        return [_plain_link(item) for item in value]
    return value


def _plain_link(link: Any) -> object:
    if not isinstance(link, dict):
        return link
    there = link.get("reference") or {}
    fields, to_fields = link.get("fields"), there.get("fields")
    return (
        [fields] if isinstance(fields, str) else fields,
        there.get("resource", ""),
        [to_fields] if isinstance(to_fields, str) else to_fields,
    )


def inside(folder: Path, path: str) -> Path | None:
    """Give the regular file of that path inside the folder, no link on the way; else None."""
    place = folder / path
    if not place.is_file() or place.resolve() != folder.resolve() / path:
        return None
    return place
