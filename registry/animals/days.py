"""Days on which something may have happened to an animal or a group."""

from datetime import date

from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Animal, Group
from registry.errors import Unsound


def not_to_come(day: date, *, what: str, field: str = "happened_on") -> None:
    """Refuse a day in the future.

    Raises
    ------
    Unsound
        With the complaint under the field.
    """
    if day > timezone.localdate():
        raise Unsound(
            what,
            _("The day %(day)s has not come yet.") % {"day": day.isoformat()},
            "Give today, or the earlier day on which it happened.",
            fields={field: "This day has not come yet."},
        )


def within_stay(
    subject: Animal | Group, day: date, *, what: str, field: str = "happened_on"
) -> None:
    """Refuse a day before the arrival of an animal or a group, or in the future.

    Raises
    ------
    Unsound
        With the complaint under the field.
    """
    not_to_come(day, what=what, field=field)
    not_before(
        day,
        subject.arrived_on,
        _("%(subject)s arrived") % {"subject": subject},
        what=what,
        field=field,
    )


def not_before(day: date, first: date, said: str, *, what: str, field: str = "happened_on") -> None:
    """Refuse a day that lies before another, which is said in words.

    Raises
    ------
    Unsound
        With the complaint under the field.
    """
    if day < first:
        raise Unsound(
            what,
            _("The day %(day)s lies before %(other_day)s, when %(said)s.")
            % {"day": day.isoformat(), "other_day": first.isoformat(), "said": said},
            "Check the day.",
            fields={field: _("It cannot be before %(day)s.") % {"day": first.isoformat()}},
        )
