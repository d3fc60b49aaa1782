"""Every step at which the power may fail: what each is, and the function that takes it.

The one place that names them. A step that is no longer reached fails its test, so that the table
keeps to the code.
"""

import inspect
import os
import signal
import traceback
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django_tasks_db.models import DBTaskResult

from archive import acceptance, actions, forms, sealing, tasks
from archive.actions import holding
from archive.copies import actions as copying
from archive.copies import rounds
from archive.models import DepositFile, Version
from archive.storage import entering, making, quarantine, store
from archive.storage.quarantine import Quarantine
from archive.storage.store import Store
from archive.storage.workbench import shutil as workbench_shutil
from registry.running import whole
from registry.running.backup import laying
from registry.search import index

type When = Literal["before", "after"]

NOT_REACHED = 3
BROKEN = 4


@dataclass(frozen=True)
class Step:
    """One step: its name, and where the function stands that takes it.

    `nth` is which call of it is meant, where the same function is called for other things before.
    """

    name: str
    owner: Any
    function: str
    nth: int = 1


UPLOAD = (
    Step("the bytes are streamed in and hashed", quarantine, "_stream"),
    Step("the file is held against those beside it", Quarantine, "_check_apart"),
    Step("the file is renamed into place", Path, "rename"),
    Step("its folder is pushed to the disk", quarantine, "settle"),
    Step("the deposit is locked", holding, "locked"),
    Step("the deposit is moved", holding, "move"),
    Step("the row of the file is written", DepositFile, "save"),
    Step("the deed is recorded", holding, "record"),
    Step("the transaction is committed", BaseDatabaseWrapper, "commit"),
)
SUBMIT = (
    Step("the deed is recorded", holding, "record"),
    Step("the transaction is committed", BaseDatabaseWrapper, "commit"),
    Step("the check is queued", forms, "enqueue_check"),
)
CHECK = (
    Step("the task is claimed", DBTaskResult, "claim"),
    Step("the first heartbeat is told", tasks, "_tell"),
    Step("the files are laid out", tasks, "lay_out"),
    Step("the register is asked for its facts", tasks, "facts_of"),
    Step("the package is checked", tasks, "check_in_child"),
    Step("the findings are put in their place", Path, "replace"),
    Step("the report is kept", tasks, "_keep"),
    Step("the breaches are opened", tasks, "open_breaches"),
    Step("the deposit is moved", holding, "move"),
    Step("what was found is recorded", holding, "record"),
    Step("what was found is committed", actions, "record_check"),
    Step("the task is marked as done", DBTaskResult, "set_successful"),
)
ACCEPTANCE = (
    Step("the terms are checked", acceptance, "check_terms"),
    Step("the files are gathered", sealing, "_files"),
    Step("the descriptor is written", sealing, "_descriptor"),
    Step("the store is made ready", Store, "_prepare"),
    Step("the files are copied to the workbench", making, "copy_in"),
    Step("the object is sealed", making, "seal"),
    Step("the object is read back", making, "read_back"),
    Step("the object is renamed into the store", entering, "move_in"),
    Step("the workbench is cleared", workbench_shutil, "rmtree", nth=2),
    Step("the deposit is sealed", acceptance, "seal"),
    Step("the deposit is moved", holding, "move"),
    Step("the row of the version is written", Version, "save"),
    Step("the version is written to the index", index, "write"),
    Step("the deed is recorded", holding, "record"),
    Step("the transaction is committed", BaseDatabaseWrapper, "commit"),
)
REPLICATION = (
    Step("the first copy is read", rounds, "faults_in"),
    Step("the second store is made ready", Store, "_prepare"),
    Step("the object is copied to its workbench", store, "copy_whole"),
    Step("the copy is read back", store, "read_back"),
    Step("the copy is renamed into the store", entering, "move_in"),
    Step("the workbench is cleared", workbench_shutil, "rmtree"),
    Step("the deed is recorded", copying, "record"),
    Step("the transaction is committed", BaseDatabaseWrapper, "commit"),
)
MENDING = (
    Step("the copy is read", rounds, "faults_of"),
    Step("the damage is recorded", copying, "find_damaged"),
    Step("the damaged object is set aside", Store, "set_aside"),
    Step("the other copy is read", rounds, "faults_in"),
    Step("the object is copied to the workbench", store, "copy_whole"),
    Step("the copy is read back", store, "read_back"),
    Step("the copy is renamed into the store", entering, "move_in"),
    Step("the mended copy is read", rounds, "faults_of", nth=2),
    Step("the mending is recorded", copying, "mend_copy"),
)

RESTORE = (
    Step("the site is shut", whole, "close_down"),
    Step("the files are written", laying, "_write", nth=3),
    Step("the folders are renamed in", laying, "_lay_files"),
    Step("some rows are written", laying, "write_rows", nth=9),
    Step("the search index is made anew", index, "rebuild"),
    Step("the database is filled", laying, "_fill_database"),
)


def each(steps: tuple[Step, ...]) -> list[tuple[Step, When]]:
    """Give each step twice: just before it, and just after."""
    whens: tuple[When, ...] = ("before", "after")
    return [(step, when) for step in steps for when in whens]


def named(value: Any) -> str:
    """Name a parameter of a test by what it is."""
    return value.name if isinstance(value, Step) else str(value)


def killed_at(step: Step, when: When, work: Callable[[], object], told: Path) -> None:
    """Do the work in a child that is killed at a step, as by a power cut; then stand alone again.

    Raises
    ------
    AssertionError
        When the child did not come so far, or broke; it says how.
    """
    connections.close_all()
    with warnings.catch_warnings():
        # Threads of others in this process do not matter to a child that only does this.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        try:
            _stop_at(step, when)
            work()
            told.write_text("it was done without coming to this step", encoding="utf-8")
            os._exit(NOT_REACHED)
        except BaseException:  # noqa: BLE001  # told to the parent, as a child can
            told.write_text(traceback.format_exc(), encoding="utf-8")
        finally:
            os._exit(BROKEN)
    _, status = os.waitpid(child, 0)
    was_killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    assert was_killed, told.read_text(encoding="utf-8")


def _stop_at(step: Step, when: When) -> None:
    real = getattr(step.owner, step.function)
    left = step.nth

    def stopped(*args: Any, **named_args: Any) -> Any:
        nonlocal left
        left -= 1
        if left == 0 and when == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        given = real(*args, **named_args)
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return given

    is_static = isinstance(inspect.getattr_static(step.owner, step.function), staticmethod)
    setattr(step.owner, step.function, staticmethod(stopped) if is_static else stopped)
