"""frictionless and the fast way side by side, over the same descriptor."""

import copy
from pathlib import Path
from typing import Any

from frictionless import FrictionlessException, Package, Resource, system

from archive.engine.fast.links import near_links_only
from archive.engine.fast.plan import Slow
from archive.engine.fast.render import as_six, cells_of
from archive.engine.fast.run import FastTable

Seven = tuple[Any, ...]


def opened(descriptor: dict[str, Any], folder: Path, name: str) -> Resource:
    package = Package.from_descriptor(copy.deepcopy(descriptor), basepath=str(folder))
    return package.get_resource(name)


def no_cut(_record: bytes) -> list[str]:
    """Cut nothing: frictionless' own errors hold their cells."""
    return []


def theirs(descriptor: dict[str, Any], folder: Path, name: str) -> list[Seven] | None:
    """What frictionless says of a table; None where it refuses to begin or crashes."""
    try:
        with system.use_context(trusted=False, onerror="ignore", standards="v2"):
            resource = opened(descriptor, folder, name)
            resource.to_descriptor(validate=True)
            (task,) = resource.validate(limit_errors=0).tasks
    except FrictionlessException:
        return None
    except Exception:  # noqa: BLE001 - that it crashes is what is asked
        return None
    return [(*as_six(error), cells_of(error, no_cut)) for error in task.errors]


def ours(descriptor: dict[str, Any], folder: Path, name: str, seed: Any = None) -> list[Seven]:
    """What the fast way says of it.

    Raises
    ------
    Slow
        When it is left to the slow way.
    """
    with system.use_context(trusted=False, onerror="ignore", standards="v2"):
        resource = opened(descriptor, folder, name)
        try:
            with near_links_only(resource, seed) as linked:
                resource.open()
            table = FastTable(resource, linked=linked, seed=seed)
            told = [*resource.header.errors, *table.errors()]
            return [(*as_six(error), cells_of(error, table.cut)) for error in told]
        except FrictionlessException as fault:
            raise Slow("it cannot be opened") from fault
        finally:
            resource.close()
