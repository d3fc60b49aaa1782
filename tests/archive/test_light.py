"""What must never be loaded where pages are served: it takes seconds and hundreds of megabytes."""

import subprocess
import sys

HEAVY = ("frictionless", "numpy", "pandas", "pyarrow")
CODE = f"""
import sys
import registry.wsgi
from django.urls import get_resolver
get_resolver().url_patterns
import archive.tasks, archive.views, archive.api
print(*[name for name in {HEAVY!r} if name in sys.modules])
"""


def test_the_process_that_serves_pages_loads_no_heavy_library() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", CODE], capture_output=True, text=True, check=True, timeout=120
    )
    assert ran.stdout.strip() == ""
