"""Every way to tamper with the uses of animals: refused, or found by the check of the ledger.

For an auditor to read, as the same list for the ledger itself is (tests/registry/ledger). What is
done past the deeds is done by one who owns the database; `verify_ledger --subjects` finds it.
"""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from registry.errors import NotPermitted, Unseen, Unsound
from registry.ledger import proof
from registry.oversight import actions
from registry.oversight.models import Breach, Use
from registry.permissions import STANDINGS
from tests.worlds.oversight import make_breach, make_enrolled, make_handling, make_use
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
NO = {403, 404, 405}
LATER = {"happened_at": timezone.now() - timedelta(days=30)}


def sql(statement: str) -> Callable[[Use], None]:
    """Give a tampering by one statement; THIS stands for the number of the use."""

    def done(use: Use) -> None:
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute(statement.replace("THIS", str(use.pk)))

    return done


def copied(*, number: str, **change: str) -> str:
    """Give a select of the use under a number, with some of its columns changed."""
    names = [field.column for field in Use._meta.concrete_fields]
    values = [{"id": number, **change}.get(name, name) for name in names]
    return (
        f"INTO oversight_use ({', '.join(names)}) "
        f"SELECT {', '.join(values)} FROM oversight_use WHERE id = THIS"
    )


def rewrite(**change: object) -> Callable[[Use], None]:
    return lambda use: Use.objects.filter(pk=use.pk).update(**change) and None


TAMPERINGS: dict[str, Callable[[Use], object]] = {
    "its number is changed by SQL": sql("UPDATE oversight_use SET number = 9 WHERE id = THIS"),
    "it is deleted by SQL": sql("DELETE FROM oversight_use WHERE id = THIS"),
    "one is inserted by SQL": sql(f"INSERT {copied(number='900')}"),
    "it is replaced (INSERT OR REPLACE)": sql(
        f"INSERT OR REPLACE {copied(number='id', severity='0', note=repr('x'))}"
    ),
    "it is put on another by an upsert": sql(
        f"INSERT {copied(number='id', note=repr('x'))} AND true "
        "ON CONFLICT (id) DO UPDATE SET note = excluded.note"
    ),
    "every use is truncated": sql("TRUNCATE oversight_use CASCADE"),
    "it is re-written by the ORM": rewrite(severity=0, note="nothing was done"),
    "it is deleted by the ORM": lambda use: use.delete(),
    "it is back-dated": rewrite(**LATER),
    "its entry is back-dated": rewrite(recorded_at=timezone.now() - timedelta(days=30)),
    "how late it was is hidden": rewrite(days_late=5),
    "it is moved to another animal": lambda use: Use.objects.filter(pk=use.pk).update(
        animal=Use.objects.exclude(pk=use.pk)[0].animal
    ),
    "what takes one back is deleted": lambda use: Use.objects.exclude(reverses=None).delete(),
    "its breach is deleted": lambda use: Breach.objects.all().delete(),
    "its breach is settled by hand": lambda use: Breach.objects.update(state="settled"),
}
KNOWN_ON = {"INSERT OR REPLACE": "sqlite", "truncated": "postgresql"}


@pytest.mark.postgres
def test_what_is_done_past_the_deeds_is_refused_or_found() -> None:
    world = make_handling()
    use = make_use(world)
    make_breach(world)
    actions.reverse_use(make_use(world), reason="Another ray.", by=world.student)
    assert proof.check(with_subjects=True)[0] == []
    for name, tamper in TAMPERINGS.items():
        is_known = all(
            vendor == connection.vendor for word, vendor in KNOWN_ON.items() if word in name
        )
        with transaction.atomic():
            if is_known:
                tamper(Use.objects.get(pk=use.pk))
                assert proof.check(with_subjects=True)[0], name
                transaction.set_rollback(True)
            else:  # a database that does not know the statement refuses it
                with pytest.raises(DatabaseError), transaction.atomic():
                    tamper(use)
    assert proof.check(with_subjects=True)[0] == []


@pytest.mark.postgres
def test_nobody_changes_a_use_or_enters_one_for_others_by_page_api_or_shell() -> None:
    world = make_handling()
    enrolled = make_enrolled(world, 1)[0]
    use = make_use(world, enrolled)
    sent = {
        "enrolment": enrolled.pk,
        "procedure": world.procedure.pk,
        "happened_at": timezone.now().isoformat(),
    }
    people = {str(role.label): make_person(role) for role in STANDINGS}
    people["all standings at once"] = make_person(*STANDINGS)
    for who, person in {**people, "its own student": world.student}.items():
        browser, api = Client(), APIClient()
        browser.force_login(person)
        api.force_authenticate(person)
        if person == world.student or who == "all standings at once":
            own = f"/api/v1/uses/{use.pk}/"
            answers = {api.patch(own, {"severity": 0}).status_code}
            answers |= {api.put(own, sent).status_code, api.delete(own).status_code}
            assert answers <= NO, who
        if person != world.student:
            project = world.project.pk
            answers = {
                api.post(f"/api/v1/projects/{project}/record_use/", sent).status_code,
                browser.post(f"/oversight/uses/{use.pk}/reverse/", {"reason": "x"}).status_code,
            }
            assert answers <= NO, who
            with pytest.raises((NotPermitted, Unseen)):
                actions.reverse_use(use, reason="It was not so.", by=person)
    assert list(Use.objects.all()) == [use]
    assert not hasattr(Use.objects.get(), "reversed_by")


def test_a_use_bears_the_moment_at_which_it_was_entered_whatever_was_sent() -> None:
    world = make_handling(days_ago=60)
    enrolled = make_enrolled(world, 1)[0]
    api = APIClient()
    api.force_authenticate(world.student)
    before, day = timezone.now(), timezone.now() - timedelta(days=40)
    sent = {
        "enrolment": enrolled.pk,
        "procedure": world.procedure.pk,
        "happened_at": day.isoformat(),
        "number": 1,
        "recorded_at": day.isoformat(),
        "recorded_by": world.lead.pk,
        "days_late": 0,
    }
    answer = api.post(f"/api/v1/projects/{world.project.pk}/record_use/", sent)
    assert answer.status_code == 201, answer.content
    use = Use.objects.get()
    assert before <= use.recorded_at <= timezone.now()
    assert (use.recorded_by, use.days_late, use.is_late) == (world.student, 40, True)
    with pytest.raises(Unsound, match="not happened"):
        make_use(world, enrolled, happened_at=timezone.now() + timedelta(days=1))
    assert use.breaches.filter(code="not-enrolled").exists()  # that day it was not
