"""Fixtures of every test: the browser, the lent suites, and a seal that opens for the flush."""

from collections.abc import Iterator

import hypothesis
import pytest
from django.test import TransactionTestCase

from registry.ledger import seal
from tests.plugins.browser import browser_type_launch_args
from tests.plugins.laid import django_db_keepdb, django_db_setup, lay
from tests.plugins.objects import object_server

__all__ = [
    "browser_type_launch_args",
    "django_db_keepdb",
    "django_db_setup",
    "lay",
    "object_server",
]

# The same draws in every run: a fault that was found is found again.
hypothesis.settings.register_profile("strandline", deadline=None, derandomize=True, database=None)
hypothesis.settings.load_profile("strandline")


@pytest.fixture(scope="session", autouse=True)
def _seal_opens_for_the_flush() -> Iterator[None]:
    """Open the ledger's seal while a transactional test's tables are emptied, and only then."""
    tear_down = TransactionTestCase._fixture_teardown

    def with_open_seal(self: TransactionTestCase) -> None:
        with seal.opened():
            tear_down(self)

    patch = pytest.MonkeyPatch()
    patch.setattr(TransactionTestCase, "_fixture_teardown", with_open_seal)
    yield
    patch.undo()
