"""Holds: while one stands, nothing of a project's data is erased."""

import pytest
from django.test import Client

from archive.acceptance import erase
from archive.actions import withdraw_version
from registry.errors import Conflict, NotPermitted, Unsound
from registry.oversight import actions
from registry.permissions import Role
from tests.worlds.archive import make_version
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_what_is_held_is_not_erased_until_the_auditor_lifts_the_hold() -> None:
    version = make_version()
    project = version.dataset.project
    auditor, steward = make_person(Role.AUDITOR), make_person(Role.STEWARD)
    with pytest.raises(NotPermitted):
        actions.hold_records(project, why="A dispute.", by=make_person(Role.KEEPER))
    with pytest.raises(Unsound):
        actions.hold_records(project, why=" ", by=auditor)
    hold = actions.hold_records(project, why="A dispute.", by=auditor)
    version = withdraw_version(version, ground="consent", reason="Asked for.", by=steward)
    with pytest.raises(Conflict, match="holds all records"):
        erase(version, reason="Asked for.", by=steward)
    with pytest.raises(NotPermitted):
        actions.lift_hold(hold, reason="Over.", by=steward)
    actions.lift_hold(hold, reason="The dispute is over.", by=auditor)
    erase(version, reason="Asked for.", by=steward)
    assert erase(version, reason="Asked for.", by=make_person(Role.ADMINISTRATOR)).state == "erased"
    client = Client()
    client.force_login(auditor)
    page = client.get("/oversight/retention/").content.decode()
    assert str(project) in page
