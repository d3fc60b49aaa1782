"""How answers and projects stand: what is missing before a project may be closed."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from archive.models import Version
from registry.oversight.models import AdverseEvent, Breach, Enrolment
from registry.projects.models import Project
from registry.questions.models import Question

_MOST_NAMED = 5


def missing_to_close(project: Project) -> list[str]:
    """Say what is missing before a project may be closed, a sentence each."""
    missing = []
    if not Version.objects.filter(
        dataset__project=project, dataset__is_pooled=False, state="held"
    ).exists():
        missing.append(_("Its dataset has no version that is held: deposit the data first."))
    open_questions = Question.objects.filter(
        studies=project.study_id, state__in=["posted", "taken_on"]
    )
    if titles := _named(f"“{question}”" for question in open_questions):
        missing.append(_("Not answered yet: %(titles)s.") % {"titles": titles})
    enrolled = Enrolment.objects.filter(project=project, state="enrolled").select_related(
        "animal", "group"
    )
    if names := _named(f"{one.subject} ({one.code})" for one in enrolled):
        missing.append(
            _("Still enrolled, neither withdrawn nor discharged: %(names)s.") % {"names": names}
        )
    if breaches := _named(map(str, Breach.objects.filter(project=project, state="opened"))):
        missing.append(_("Not explained yet: %(breaches)s.") % {"breaches": breaches})
    events = AdverseEvent.objects.filter(project=project, state="reported")
    if named := _named(map(str, events)):
        missing.append(
            _("Not assessed by a veterinary surgeon yet: %(events)s.") % {"events": named}
        )
    return missing


def _named(names: Iterable[str]) -> str:
    listed = list(names)
    more = len(listed) - _MOST_NAMED
    named = ", ".join(listed[:_MOST_NAMED])
    return _("%(named)s and %(more)s more") % {"named": named, "more": more} if more > 0 else named
