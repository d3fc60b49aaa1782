"""Where a day begins: moments are compared with moments, so that an index on them serves."""

from datetime import UTC, date, datetime, time, timedelta

from django.utils import timezone


def begin(day: date) -> datetime:
    """Give the first moment of a day where the collection is."""
    return timezone.make_aware(datetime.combine(day, time.min))


def after(day: date) -> datetime:
    """Give the first moment that is no longer of this day."""
    if day == date.max:
        return datetime.max.replace(tzinfo=UTC)
    return begin(day + timedelta(days=1))
