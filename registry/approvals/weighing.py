"""What a decider must weigh: the limits against the plans, what was used, and the cautions."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from registry.approvals.models import Approval, Limit
from registry.design.replication import Caution
from registry.drawings import Staff, staff
from registry.projects.cautions import on_show_cautions, procedure_cautions
from registry.projects.models import Arm, Project, Severity


@dataclass(frozen=True)
class LimitSum:
    """A line of the limits with what was used of it, and the line that it would replace."""

    limit: Limit
    present: Limit | None
    animals_used: int
    most_times: int

    def staffs(self, *, is_asking: bool) -> list[Staff]:
        """Draw the animals, and the times each where they are limited."""
        name = f"{self.limit.taxon}, {self.limit.procedure}"
        present = self.present.max_animals if self.present else self.limit.max_animals
        drawn = [
            _drawn(
                _("Animals: %(name)s") % {"name": name},
                self.animals_used,
                self.limit.max_animals,
                present,
                is_asking,
            )
        ]
        if self.limit.max_contacts_each is not None:
            times = self.limit.max_contacts_each
            before = self.present.max_contacts_each if self.present else None
            drawn.append(
                _drawn(
                    _("Times with one animal: %(name)s") % {"name": name},
                    self.most_times,
                    times,
                    before or times,
                    is_asking,
                )
            )
        return drawn


def _drawn(name: str, used: int, asked_limit: int, present: int, is_asking: bool) -> Staff:
    """Draw one amount: while asked for, what the request would still allow beyond what was used."""
    if is_asking:
        return staff(name, used, max(0, asked_limit - used), present)
    return staff(name, used, 0, asked_limit)


def held_by(projects: Sequence[Project], name: str) -> Any:
    """Give what a higher slice holds of several projects, by the name of the relation."""
    model: Any = Project._meta.get_field(name).related_model
    return model._default_manager.filter(project__in=[one.pk for one in projects])


def live_limits(approval: Approval) -> list[Limit]:
    """Give the lines of an approval that were not dropped."""
    return list(approval.limits.filter(is_dropped=False).select_related("taxon", "procedure"))


def _key(limit: Limit) -> tuple[int, str, int]:
    return limit.taxon_id, limit.life_stage, limit.procedure_id


def limit_sums(approval: Approval, projects: Sequence[Project]) -> list[LimitSum]:
    """Give each limit with what its projects have used; three queries."""
    uses = list(
        held_by(projects, "uses")
        .standing()
        .values_list(
            "procedure",
            "animal",
            "group",
            "number",
            "animal__taxon",
            "animal__life_stage",
            "group__taxon",
            "group__life_stage",
        )
    )
    present = {_key(one): one for one in live_limits(approval.amends)} if approval.amends else {}
    sums = []
    for limit in live_limits(approval):
        times: Counter[tuple[str, int]] = Counter()
        sizes: dict[tuple[str, int], int] = {}
        for procedure, animal, group, number, *kinds in uses:
            taxon, stage = kinds[:2] if animal else kinds[2:]
            if procedure != limit.procedure_id or taxon != limit.taxon_id:
                continue
            if limit.life_stage and stage != limit.life_stage:
                continue
            subject = ("animal", animal) if animal else ("group", group)
            times[subject] += 1
            sizes[subject] = max(sizes.get(subject, 0), number)
        sums.append(
            LimitSum(
                limit,
                present.get(_key(limit)),
                sum(sizes.values()),
                max(times.values(), default=0),
            )
        )
    return sums


def beyond_plans(approval: Approval, projects: Sequence[Project]) -> list[str]:
    """Give where a request asks for more than the plans of its projects say, in words."""
    plans = [one.plan for one in projects]
    arms = list(
        Arm.objects.filter(plan__in=plans, is_dropped=False).values_list("taxon", "animals")
    )
    planned: Counter[int] = Counter()
    for taxon, animals in arms:
        planned[taxon] += animals
    procedures = {one.pk for plan in plans for one in plan.procedures.all()}
    places = {one.pk for plan in plans for one in plan.places.all()}
    found = []
    for limit in live_limits(approval):
        if limit.taxon_id not in planned:
            found.append(_("%(what)s is in no plan that it covers.") % {"what": limit.taxon})
        elif limit.max_animals > planned[limit.taxon_id]:
            found.append(
                _(
                    "%(asked)s animals are asked for (%(taxon)s, %(procedure)s); the plans say "
                    "%(planned)s."
                )
                % {
                    "asked": limit.max_animals,
                    "taxon": limit.taxon,
                    "procedure": limit.procedure,
                    "planned": planned[limit.taxon_id],
                }
            )
        if limit.procedure_id not in procedures:
            found.append(_("“%(what)s” is in no plan that it covers.") % {"what": limit.procedure})
    found += [
        _("%(what)s is in no plan that it covers.") % {"what": place}
        for place in approval.places.all()
        if place.pk not in places
    ]
    worst = max((plan.max_severity for plan in plans), default=Severity.SUB_THRESHOLD)
    if approval.max_severity > worst:
        found.append(
            _("Severity %(asked)s is asked for; the plans expect %(worst)s at most.")
            % {"asked": approval.get_max_severity_display(), "worst": Severity(worst).label}
        )
    return list(dict.fromkeys(found))


def approval_cautions(approval: Approval, projects: Sequence[Project]) -> list[Caution]:
    """Give every caution on a request: beyond the plans, on show, and each procedure's own."""
    procedures = list({one.procedure_id: one.procedure for one in live_limits(approval)}.values())
    beyond = [
        Caution(_("beyond the plan"), said, _("the plans as they stand today"))
        for said in beyond_plans(approval, projects)
    ]
    shown = on_show_cautions(approval.places.all(), procedures)
    return beyond + shown + procedure_cautions(procedures)
