"""What every walk over the site's addresses needs."""

from collections.abc import Iterator

import pytest

from tests.worlds.archive import pooling_here


@pytest.fixture(autouse=True)
def pools_are_read_here() -> Iterator[None]:
    with pooling_here():
        yield
