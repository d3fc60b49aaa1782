import importlib.util
import socket
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def bootstrap(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """Load the script as it stands, with an environment of its own in a temporary folder."""
    spec = importlib.util.spec_from_file_location("bootstrap", ROOT / ".ci" / "bootstrap.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name, path in (("VENV", ".venv"), ("PYTHON", ".venv/bin/python")):
        monkeypatch.setattr(module, name, tmp_path / path)
    return module


def said(capsys: pytest.CaptureFixture[str]) -> str:
    """Give the one line that was said."""
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 1
    return lines[0]


def test_no_fit_interpreter_is_said_in_one_line(bootstrap, monkeypatch, capsys):
    monkeypatch.setattr(bootstrap, "candidates", lambda: iter([sys.executable]))
    assert bootstrap.interpreter() == sys.executable
    monkeypatch.setattr(bootstrap, "OLDEST", (3, 99))
    with pytest.raises(SystemExit) as stopped:
        bootstrap.interpreter()
    assert stopped.value.code == 1
    assert "install one" in said(capsys)


def test_an_interpreter_without_ensurepip_is_said_in_one_line(
    bootstrap, monkeypatch, capsys, tmp_path
):
    half = tmp_path / "python3.13"
    half.write_text("#!/bin/sh\necho 3 13 0\n", encoding="ascii")
    half.chmod(0o755)
    monkeypatch.setattr(bootstrap, "candidates", lambda: iter([str(half), sys.executable]))
    assert bootstrap.interpreter() == sys.executable
    monkeypatch.setattr(bootstrap, "candidates", lambda: iter([str(half)]))
    with pytest.raises(SystemExit):
        bootstrap.interpreter()
    assert "python3.13-venv" in said(capsys)


def test_versions_that_a_shim_hides_are_found_without_a_home(bootstrap, monkeypatch, tmp_path):
    hidden = tmp_path / "versions" / "3.13.0" / "bin" / "python3.13"
    hidden.parent.mkdir(parents=True)
    hidden.symlink_to(sys.executable)
    monkeypatch.setenv("PATH", str(tmp_path / "shims"))
    monkeypatch.delenv("PYENV_ROOT", raising=False)
    assert str(hidden) in bootstrap.candidates()


def test_a_folder_that_is_no_environment_is_left_alone(bootstrap, capsys, tmp_path):
    kept = tmp_path / ".venv" / "letter.txt"
    kept.parent.mkdir()
    kept.write_text("not yours", encoding="ascii")
    with pytest.raises(SystemExit):
        bootstrap.make_venv()
    assert "move it away" in said(capsys)
    assert kept.read_text(encoding="ascii") == "not yours"


def test_a_taken_port_is_said_in_one_line_before_anything_is_made():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        asked = [sys.executable, ROOT / ".ci" / "demo.py", "--port", str(port)]
        told = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert told.returncode == 1
    assert told.stdout == ""
    assert told.stderr == (
        f"strandline: port {port} is taken or not yours to use; "
        "choose another one: make demo PORT=8123\n"
    )
