"""The API's addresses; composition only. Each slice's api.py names what it offers."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from archive.api import OFFERED as ARCHIVE
from archive.forms import PROJECT_DEEDS as ARCHIVE_OF_A_PROJECT
from archive.forms import STUDY_DEEDS as ARCHIVE_OF_A_STUDY
from registry.afar.api import OFFERED as AFAR
from registry.afar.forms import ANIMAL_DEEDS as AFAR_OF_AN_ANIMAL
from registry.afar.forms import CASE_DEEDS as AFAR_OF_A_CASE
from registry.afar.forms import GROUP_DEEDS as AFAR_OF_A_GROUP
from registry.animals.api import OFFERED as ANIMALS
from registry.animals.api import AnimalViewSet, EggCaseViewSet, GroupViewSet
from registry.answers.api import OFFERED as ANSWERS
from registry.answers.forms import PROJECT_DEEDS as ANSWERS_OF_A_PROJECT
from registry.answers.forms import QUESTION_DEEDS as ANSWERS_OF_A_QUESTION
from registry.approvals.api import OFFERED as APPROVALS
from registry.approvals.forms import PROJECT_DEEDS as APPROVALS_OF_A_PROJECT
from registry.desk.api import OFFERED as DESK
from registry.desk.designing.api import VIEWS as DESIGN
from registry.desk.designing.taking import DESIGN_DEEDS
from registry.ledger.api import OFFERED as LEDGER
from registry.oversight.api import OFFERED as OVERSIGHT
from registry.oversight.api import lifetime
from registry.oversight.forms import PROJECT_DEEDS as OVERSIGHT_OF_A_PROJECT
from registry.people.api import OFFERED as PEOPLE
from registry.projects.api import OFFERED as PROJECTS
from registry.projects.api import ProjectViewSet, StudyViewSet
from registry.questions.api import OFFERED as QUESTIONS
from registry.questions.api import QuestionViewSet
from registry.rest import Router, extend, look_at

extend(AnimalViewSet, AFAR_OF_AN_ANIMAL)
extend(EggCaseViewSet, AFAR_OF_A_CASE)
extend(GroupViewSet, AFAR_OF_A_GROUP)
extend(QuestionViewSet, ANSWERS_OF_A_QUESTION)
extend(ProjectViewSet, ANSWERS_OF_A_PROJECT)
extend(ProjectViewSet, APPROVALS_OF_A_PROJECT)
extend(ProjectViewSet, OVERSIGHT_OF_A_PROJECT)
extend(ProjectViewSet, DESIGN_DEEDS)
extend(StudyViewSet, ARCHIVE_OF_A_STUDY)
extend(ProjectViewSet, ARCHIVE_OF_A_PROJECT)
look_at(AnimalViewSet, lifetime)
look_at(GroupViewSet, lifetime)

router = Router()
for offered in (
    PEOPLE,
    LEDGER,
    ANIMALS,
    QUESTIONS,
    PROJECTS,
    APPROVALS,
    OVERSIGHT,
    ARCHIVE,
    ANSWERS,
    AFAR,
    DESK,
):
    for plural, viewset in offered.items():
        router.register(plural, viewset, basename=f"api-{plural}")

urlpatterns = [
    *(
        path(f"design/{name}/", view.as_view(), name=f"api-design-{name}")
        for name, view in DESIGN.items()
    ),
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path("", include(router.urls)),
]
