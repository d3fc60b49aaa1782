"""Deeds about people, institutions, and the bodies that decide."""

from registry.people.actions.bodies import (
    call_off_meeting,
    describe_body,
    end_seat,
    open_body,
    plan_meeting,
    seat_member,
)
from registry.people.actions.persons import (
    add_person,
    describe_person,
    end_standing,
    give_standing,
    induct_person,
    make_token,
    open_institution,
    rename_institution,
    revoke_token,
)

__all__ = [
    "add_person",
    "call_off_meeting",
    "describe_body",
    "describe_person",
    "end_seat",
    "end_standing",
    "give_standing",
    "induct_person",
    "make_token",
    "open_body",
    "open_institution",
    "plan_meeting",
    "rename_institution",
    "revoke_token",
    "seat_member",
]
