"""Entering the uses that an accepted version shows: which animals it has in which session."""

import io
from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from archive.engine.in_view import pairs_in
from archive.models import Version
from archive.places import store
from archive.serving import layout_of
from registry.errors import Unsound
from registry.oversight.actions import enter_uses
from registry.oversight.forms.words import LOCAL_CODES, procedures_for
from registry.projects.models import Procedure, Project
from registry.web import DeedForm

MOST_ROWS = 2_000_000


def seen_in(version: Version) -> Iterator[tuple[str, str]]:
    """Give session and animal of each row, each pair once for each table; read as a stream.

    Raises
    ------
    Unsound
        Where there are more rows than a page can wait for.
    """
    if version.rows > MOST_ROWS:
        raise Unsound(
            "No use was entered.",
            said("The version has %(rows)s rows; %(most_rows)s are read at most.")
            % {"rows": f"{version.rows:,}", "most_rows": f"{MOST_ROWS:,}"},
            "Enter the sessions as held with the animals in view.",
            fields={
                "version": said("More than %(most_rows)s rows.") % {"most_rows": f"{MOST_ROWS:,}"}
            },
        )
    for resource in version.descriptor["resources"]:
        path, schema = resource.get("path"), resource.get("schema")
        if not isinstance(schema, dict) or not isinstance(path, str):
            continue
        layout = layout_of(version, path)
        if path.endswith(".tsv"):
            layout.setdefault("delimiter", "\t")
        with store().open_file(version.identifier, path) as opened:
            text = io.TextIOWrapper(opened, encoding="utf-8-sig", newline="")
            yield from pairs_in(text, schema, layout)


class EnterUses(DeedForm):
    """Which accepted data, and what was done with the animals in them."""

    caution = LOCAL_CODES
    intro = _(
        "Each animal that the data show in a held session becomes a use, once: what is on record "
        "already stays as it is, and a second time enters nothing. What passed a limit is entered "
        "all the same and opens a breach."
    )

    version = forms.ModelChoiceField(Version.objects.none(), label=_("Version"))
    procedure = forms.ModelChoiceField(
        Procedure.objects.none(), label=_("What was done"), empty_label=None
    )

    def fit(self) -> None:
        """Offer the versions that are held, the newest first, and the planned procedures first."""
        fields: dict[str, Any] = self.fields
        held = Version.objects.held().filter(
            dataset__project=self.subject, dataset__is_pooled=False
        )
        fields["version"].queryset = held.order_by("-pk")
        self.initial.setdefault("version", fields["version"].queryset.first())
        fields["procedure"].queryset = procedures_for(self.subject)

    def act(self) -> Project:
        """Read who was in view, and enter it."""
        version: Version = self.cleaned_data["version"]
        return enter_uses(
            self.subject,
            seen=seen_in(version),
            procedure=self.cleaned_data["procedure"],
            source=f"From {version.identifier}",
            by=self.by,
        )
