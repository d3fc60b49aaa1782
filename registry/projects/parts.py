"""Who may have which part in a project."""

from django.utils.translation import gettext as _

from registry.errors import Unsound
from registry.people.models import Person
from registry.permissions import Part, Role

_STANDING_FOR = {
    Part.LEAD: Role.SUPERVISOR,
    Part.CO_SUPERVISOR: Role.SUPERVISOR,
    Part.STUDENT: Role.STUDENT,
}


def has_standing(person: Person, part: str, what: str, field: str) -> None:
    """Refuse a person without the standing that a part needs."""
    wanted = _STANDING_FOR.get(Part(part))
    if wanted is not None and wanted not in Person.objects.get(pk=person.pk).roles:
        raise Unsound(
            what,
            _("%(person)s has no standing as %(label)s, which a %(label_too)s needs.")
            % {"person": person, "label": wanted.label, "label_too": Part(part).label},
            "Choose someone else, or ask an administrator to give the standing.",
            fields={field: _("No standing as %(label)s.") % {"label": wanted.label}},
        )
