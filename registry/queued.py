"""Whether a task waits already, so that the clock does not queue it twice."""

from datetime import timedelta

from django.db.models import Q
from django.tasks import TaskResultStatus
from django.utils import timezone
from django_tasks_db.models import DBTaskResult


def is_queued(path: str, *, dead_after: timedelta) -> bool:
    """Say whether a task waits or is at work; one at work for longer is taken to be dead."""
    queued = DBTaskResult.objects.filter(task_path=path).filter(
        Q(status=TaskResultStatus.READY)
        | Q(status=TaskResultStatus.RUNNING, started_at__gt=timezone.now() - dead_after)
    )
    return queued.exists()
