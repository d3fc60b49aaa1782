"""Deeds are whole: every public function of such a file asks, records, is one transaction."""

import ast
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
RECORDER = ROOT / "registry" / "ledger" / "actions.py"


def files() -> list[Path]:
    """Give every file of deeds: actions.py, or the files of a package of that name."""
    found = [
        path
        for top in ("registry", "archive")
        for pattern in ("**/actions.py", "**/actions/*.py")
        for path in (ROOT / top).glob(pattern)
    ]
    return sorted(path for path in found if path != RECORDER)


@dataclass(frozen=True)
class Function:
    """A function of a file of deeds, with the private ones that it can call."""

    path: Path
    node: ast.FunctionDef
    private: dict[str, ast.FunctionDef]

    @property
    def name(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.node.name}"

    def calls(self) -> set[str]:
        """Give the names that it calls, directly or through private functions of its file."""
        found: set[str] = set()
        waiting, met = [self.node], {self.node.name}
        while waiting:
            here = called(waiting.pop())
            found |= here
            for name in here & set(self.private) - met:
                met.add(name)
                waiting.append(self.private[name])
        return found


def called(node: ast.AST) -> set[str]:
    names = set()
    for one in ast.walk(node):
        if isinstance(one, ast.Call):
            if isinstance(one.func, ast.Name):
                names.add(one.func.id)
            elif isinstance(one.func, ast.Attribute):
                names.add(one.func.attr)
    return names


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def exported(path: Path) -> set[str] | None:
    """Give the names that a package of deeds re-exports; None for a file by itself."""
    if path.parent.name != "actions":
        return None
    beside = tree(path.parent / "__init__.py")
    return {
        alias.asname or alias.name
        for node in beside.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def functions() -> list[Function]:
    """Give every public function of every file of deeds."""
    found = []
    for path in files():
        nodes = [node for node in tree(path).body if isinstance(node, ast.FunctionDef)]
        private = {node.name: node for node in nodes if node.name.startswith("_")}
        found += [Function(path, node, private) for node in nodes if not node.name.startswith("_")]
    return found


DEEDS = functions()
# Reads that stand beside the deeds which they serve; they write nothing, as is seen to below.
READS = {
    "registry/oversight/actions/enrolments.py:severities_of",
    "registry/oversight/actions/concerns.py:digest_of_code",
}
WRITES = {"save", "create", "update", "bulk_create", "bulk_update", "add", "set", "remove", "move"}


def test_there_are_deeds_to_look_at() -> None:
    assert len(files()) >= 7
    assert len(DEEDS) > 80
    assert {deed.name for deed in DEEDS} >= READS


@pytest.mark.parametrize("deed", DEEDS, ids=lambda deed: deed.name)
def test_a_deed_asks_and_records_in_one_transaction_in_a_persons_name(deed: Function) -> None:
    calls = deed.calls()
    if deed.name in READS:
        assert not calls & (WRITES | {"record"}), deed.name
        return
    decorators = {ast.unparse(one) for one in deed.node.decorator_list}
    assert "transaction.atomic" in decorators, "it is not one transaction"
    assert "by" in {one.arg for one in deed.node.args.kwonlyargs}, "it has no keyword-only `by`"
    place = [one.arg for one in deed.node.args.kwonlyargs].index("by")
    assert deed.node.args.kw_defaults[place] is None, "`by` must be said"
    assert "require" in calls, "it does not ask whether one may"
    assert "record" in calls, "it leaves no entry in the ledger"


@pytest.mark.parametrize("deed", DEEDS, ids=lambda deed: deed.name)
def test_nothing_is_locked_after_the_record_which_holds_the_ledgers_head(deed: Function) -> None:
    lines: dict[str, list[int]] = {}
    for node in ast.walk(deed.node):
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            name = node.func.id if isinstance(node.func, ast.Name) else name
            lines.setdefault(name, []).append(node.lineno)
    recorded = min(lines.get("record", [10**9]))
    for name in ("locked", "locked_all", "select_for_update", "move"):
        assert max(lines.get(name, [0])) < recorded, f"{name} stands after record"


@pytest.mark.parametrize("path", files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_deeds_never_call_deeds_of_another_file(path: Path) -> None:
    if path.name == "__init__.py":
        return
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.ImportFrom) and node.module:
            parts = node.module.split(".")
            if "actions" in parts and node.module != "registry.ledger.actions":
                deeds = {deed.node.name for deed in DEEDS if deed.name not in READS}
                assert not {alias.name for alias in node.names} & deeds, node.module


def test_every_file_of_a_package_of_deeds_is_re_exported() -> None:
    for deed in DEEDS:
        names = exported(deed.path)
        if names is not None and deed.name not in READS:
            assert deed.node.name in names, f"{deed.name} is not named in __init__.py"


def test_the_state_is_written_by_move_alone_and_the_ledger_by_record_alone() -> None:
    """Looks in every file for an assignment or update of `state`, and for a new Entry."""
    found = []
    for top in ("registry", "archive"):
        for path in (ROOT / top).glob("**/*.py"):
            here = str(path.relative_to(ROOT))
            if "/migrations/" in here or here == "registry/transitions.py":
                continue
            for node in ast.walk(tree(path)):
                if writes_state(node):
                    found.append(f"{here}:{node.lineno} writes a state")  # type: ignore[attr-defined]
                if makes_entry(node) and path != RECORDER:
                    found.append(f"{here}:{node.lineno} writes the ledger")  # type: ignore[attr-defined]
    assert found == []


def writes_state(node: ast.AST) -> bool:
    if isinstance(node, ast.Assign | ast.AugAssign):
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        return any(isinstance(one, ast.Attribute) and one.attr == "state" for one in targets)
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
        return False
    writes = node.func.attr in {"update", "create", "get_or_create"}
    return writes and any(one.arg == "state" for one in node.keywords)


def makes_entry(node: ast.AST) -> bool:
    if not isinstance(node, ast.Call):
        return False
    said = ast.unparse(node.func)
    return said in {"Entry.objects.create", "Entry.objects.bulk_create"} or (
        said == "Entry" and {"number", "digest"} <= {one.arg for one in node.keywords}
    )


def test_the_checks_above_would_see_a_fault() -> None:
    """The readers of code, held against code that is wrong."""
    bad = ast.parse("def f(x):\n    x.state = 'a'\n    Entry.objects.create()\n")
    assert any(writes_state(node) for node in ast.walk(bad))
    assert any(makes_entry(node) for node in ast.walk(bad))
    assert called(bad) == {"create"}
    through = ast.parse("def f():\n    _g()\ndef _g():\n    record()\n")
    f, g = through.body
    assert isinstance(f, ast.FunctionDef)
    assert isinstance(g, ast.FunctionDef)
    assert "record" in Function(ROOT, f, {"_g": g}).calls()
    assert "record" not in Function(ROOT, f, {}).calls()
