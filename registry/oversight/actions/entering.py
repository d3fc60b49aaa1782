"""The deed that enters as uses what an accepted dataset shows, each once."""

from collections.abc import Iterable

from django.db import transaction

from registry.errors import Conflict
from registry.ledger.actions import Made, record, record_all
from registry.oversight.entering import Seen, unentered
from registry.oversight.happened import Handled, Happening, write_all
from registry.oversight.locks import still, still_subjects
from registry.oversight.models import Breach, Session, Use
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Procedure, Project
from registry.transitions import follows


@transaction.atomic
def enter_uses(
    project: Project, *, seen: Iterable[Seen], procedure: Procedure, source: str, by: Person
) -> Project:
    """Enter a use for each animal that data show in a held session and that has none there yet.

    A second time enters nothing more. What passed a limit is entered all the same and opens a
    breach; of a counted group so many count as are enrolled. `source` names the data.

    Refused when: the project does not work with animals now; everything is on record already, or
    the data know no session and animal of this project.
    """
    require(by, Verb.PROJECT_ENTER_USES, project)
    project = still(project)
    follows(project, "enter_uses")
    found = unentered(project, seen)
    if not found.sessions:
        raise Conflict(
            "No use was entered.",
            "Every animal of every session in the data is on record already."
            if found.entered
            else "The data show no held session with an enrolled animal of this project.",
            "Look at the uses of the project; enter a missing one by itself.",
        )
    still_subjects(one.subject for _session, here in found.sessions for one in here)
    entered = [
        (
            Happening(
                project=project,
                moment=session.started_at or session.planned_start,
                procedure=procedure,
                place=session.place,
                people=list(session.observers.all()),
                severity=procedure.severity,
            ),
            [Handled(one.subject, one, one.number) for one in here],
        )
        for session, here in found.sessions
    ]
    sessions = [session for session, _here in found.sessions]
    uses, breaches = write_all(entered, sessions=sessions, note=source, by=by)
    _put_in_view(uses)
    of_use: dict[int, list[Breach]] = {}
    for breach in breaches:
        of_use.setdefault(breach.use_id or 0, []).append(breach)
    made = [Made(Verb.PROJECT_RECORD_USE, use, tuple(of_use.get(use.pk, ()))) for use in uses]
    record_all(made, by=by)
    record(
        Verb.PROJECT_ENTER_USES,
        project,
        by=by,
        source=source,
        uses=len(uses),
        breaches=[one.pk for one in breaches],
        sessions=[one.pk for one in sessions],
        unknown=len(found.unknown),
    )
    return project


def _put_in_view(uses: Iterable[Use]) -> None:
    """Let each session say that it had these animals in view."""
    through = Session.enrolments.through
    through.objects.bulk_create(
        [through(session_id=one.session_id, enrolment_id=one.enrolment_id) for one in uses],
        ignore_conflicts=True,
        batch_size=500,
    )
