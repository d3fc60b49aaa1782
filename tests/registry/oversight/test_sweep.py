"""The sweep over every use: it agrees with what was judged at the entry, and finds what was not."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from registry.approvals.models import Approval
from registry.oversight import actions
from registry.oversight.models import Breach
from registry.oversight.sweep import Swept, sweep
from tests.worlds.animals import make_animal
from tests.worlds.oversight import make_enrolled, make_handling, make_two_under_one, make_use
from tests.worlds.projects import make_procedure

pytestmark = pytest.mark.django_db


@pytest.mark.postgres
def test_what_was_judged_at_its_entry_is_found_again_and_nothing_else() -> None:
    first, second = make_two_under_one(max_animals=2)
    one, other = make_enrolled(first, 2)
    make_use(first, one)
    make_use(second, animal=other.animal)
    make_use(second, animal=make_animal(taxon=first.taxon, enclosure=first.place))
    make_use(first, one, procedure=make_procedure("netting"))
    make_use(first, one, severity=3)
    told = set(
        Breach.objects.exclude(code__in=["not-enrolled", "no-live-permission"]).values_list(
            "use_id", "code"
        )
    )
    assert {code for _use, code in told} == {
        "over-animals",
        "procedure-not-covered",
        "over-severity",
    }
    swept = Swept()
    assert list(sweep(swept)) == []
    assert (swept.uses, swept.projects, swept.outside) == (5, 2, len(told))
    Breach.objects.filter(use__isnull=False)._raw_delete("default")  # type: ignore[attr-defined]  # why: past the deeds
    assert {(one.use, str(one.code)) for one in sweep()} == told


def test_an_approval_whose_days_were_cut_afterwards_is_found_by_the_command() -> None:
    world = make_handling()
    use = make_use(world)
    out = StringIO()
    call_command("sweep_uses", stdout=out)
    assert "1 uses of 1 projects; 0 times outside" in out.getvalue()
    tomorrow = timezone.localdate() + timedelta(days=1)
    Approval.objects.filter(pk=world.approval.pk).update(starts_on=tomorrow)
    out = StringIO()
    with pytest.raises(CommandError, match="1 times outside a limit"):
        call_command("sweep_uses", stdout=out)
    assert f"use {use.pk}, project {world.project.pk}, outside-dates" in out.getvalue()


def test_what_was_taken_back_is_not_looked_at_and_more_uses_cost_no_more_queries() -> None:
    world = make_handling()
    one = make_enrolled(world, 1)[0]
    counts = []
    for _round in range(2):
        wrong = make_use(world, one, severity=3)
        actions.reverse_use(wrong, reason="Another ray.", by=world.student)
        make_use(world, one)
        swept = Swept()
        with CaptureQueriesContext(connection) as asked:
            assert list(sweep(swept)) == []
        counts.append(len(asked))
        assert swept.outside == 0
    assert counts[0] == counts[1]
