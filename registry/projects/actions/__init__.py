"""Deeds on studies and projects: opening, people, plan and review, halts, the next cohort."""

from registry.projects.actions.cohorts import (
    extend_project,
    open_project,
)
from registry.projects.actions.course import (
    abandon_project,
    finish_project,
    halt_project,
    lift_halt,
)
from registry.projects.actions.designs import (
    drop_design,
    reveal_allocation,
    use_design,
)
from registry.projects.actions.people import (
    assign_member,
    end_membership,
    sign_agreement,
)
from registry.projects.actions.plan import (
    accept_plan,
    add_arm,
    drop_arm,
    return_plan,
    submit_plan,
    write_plan,
)
from registry.projects.actions.studies import (
    open_study,
    take_question,
)
from registry.projects.models import PLAN_TEXTS

__all__ = [
    "PLAN_TEXTS",
    "abandon_project",
    "accept_plan",
    "add_arm",
    "assign_member",
    "drop_arm",
    "drop_design",
    "end_membership",
    "extend_project",
    "finish_project",
    "halt_project",
    "lift_halt",
    "open_project",
    "open_study",
    "return_plan",
    "reveal_allocation",
    "sign_agreement",
    "submit_plan",
    "take_question",
    "use_design",
    "write_plan",
]
