"""The report of an audit in words: what was found, what was looked at, what must be answered."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from registry.saying import day_said


def audit_report(shown: Mapping[str, Any]) -> dict[str, Any]:
    """Give the facts of the printed report, from what the page shows."""
    audit = shown["audit"]
    days = (
        f"{day_said(audit.from_on)} – {day_said(audit.to_on)}"
        if audit.from_on and audit.to_on
        else _("not said")
    )
    return {
        "title": audit.title,
        "over": _("Audit %(number)s") % {"number": audit.pk},
        "facts": [
            (_("What it looks at"), audit.scope),
            (_("Days"), days),
            (_("Opened by"), f"{audit.opener.name}, {day_said(audit.opened_at)}"),
        ],
        "found_head": _("What the program found"),
        "found": [
            *(
                [str(said), str(number)]
                for _name, said, number in shown["counts"]
                if number is not None
            ),
            *([_("session without a use"), str(one)] for one in shown["sessions"]),
        ],
        "drawn_head": _("What was looked at"),
        "draws": [_draw(draw, str(said)) for draw, said in shown["draws"]],
        "heads": [_("Use"), _("Happened"), _("Project"), _("Result"), _("Evidence")],
        "rows": [
            [
                f"{one.use_id}: {one.use}",
                day_said(one.use.happened_at),
                str(one.use.project),
                one.get_state_display(),
                one.evidence,
            ]
            for one in shown["sampled"]
        ],
        "points_head": _("Points"),
        "point_heads": [_("Point"), _("Put to"), _("Due"), _("State"), _("Answer")],
        "points": [
            [
                one.text,
                one.addressee.name,
                day_said(one.due_on) if one.due_on else "",
                one.get_state_display(),
                one.answer,
            ]
            for one in shown["points"]
        ],
    }


def _draw(draw: Any, said: str) -> str:
    if draw.seed:
        return _("%(size)s of %(of)s by chance, with the seed %(seed)s.") % {
            "size": draw.size,
            "of": draw.of,
            "seed": draw.seed,
        }
    return _("Up to %(size)s of %(of)s on a ground: %(ground)s.") % {
        "size": draw.size,
        "of": draw.of,
        "ground": said,
    }
