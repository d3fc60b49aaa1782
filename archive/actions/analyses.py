"""Deeds on analyses: asked by a person, computed by the worker, run again and compared."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.analysis.asked.kinds import Request
from archive.models import Analysis, Dictionary, Sitting, Version
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, allowed, require
from registry.transitions import follows, locked, locked_all, move

_WHAT = "The analysis was not asked."


@transaction.atomic
def ask_analysis(
    version: Version,
    *,
    request: Request,
    title: str,
    facts: Mapping[str, Any],
    others: Iterable[Version] = (),
    is_planned: bool = False,
    by: Person,
) -> Analysis:
    """Ask an analysis of a version; the worker computes it.

    `others` are further versions of the same study, where cohorts are put together.

    Refused when: a version is no longer held; one may not read one of the others, or it is of
    another study; it has no title.
    """
    require(by, Verb.VERSION_ANALYSE, version)
    ids = {version.pk, *(one.pk for one in others)}
    sources = locked_all(Version, ids)
    version = next(one for one in sources if one.pk == version.pk)
    follows(version, "analyse")
    if gone := [str(one) for one in sources if one.state != "held"]:
        raise Conflict(
            _WHAT,
            _("No longer held: %(gone)s.") % {"gone": ", ".join(gone)},
            "Choose other versions.",
        )
    read = allowed(Version.objects.filter(pk__in=ids), by, Verb.VERSION_READ)
    if read.count() < len(ids):
        raise NotPermitted(_WHAT, "You may not read every version.", "Leave that one out.")
    study = version.dataset.project.study_id
    if any(one.dataset.project.study_id != study for one in sources):
        raise Unsound(
            _WHAT,
            "Cohorts are put together within one study.",
            "Leave out what is of another study.",
            fields={"versions": "Choose versions of this study."},
        )
    if not title.strip():
        raise Unsound(_WHAT, "It has no title.", "Say what it asks.", fields={"title": "Write it."})
    analysis = Analysis.objects.create(
        version=version,
        sort=request.kind,
        title=title.strip(),
        request=request.as_dict(),
        facts=dict(facts),
        is_planned=is_planned,
        asked_by=by,
    )
    analysis.sources.set(sources)
    record(
        Verb.VERSION_ANALYSE,
        version,
        by=by,
        touched=[analysis],
        analysis=analysis.pk,
        sources=[one.identifier for one in sources],
    )
    return analysis


@transaction.atomic
def record_analysis(
    analysis: Analysis,
    *,
    result: Mapping[str, Any],
    digest: str,
    code: str,
    is_planned: bool,
    standing_said: str,
    by: Person,
) -> Analysis:
    """Record what an analysis gave, with the digest of its numbers and of the code."""
    require(by, Verb.ANALYSIS_COMPUTE, analysis)
    analysis = locked(analysis)
    before, after = move(analysis, "compute")
    analysis.result, analysis.digest, analysis.code = dict(result), digest, code
    analysis.is_planned, analysis.standing_said = is_planned, standing_said
    analysis.computed_at = timezone.now()
    analysis.save(
        update_fields=["result", "digest", "code", "is_planned", "standing_said", "computed_at"]
    )
    record(
        Verb.ANALYSIS_COMPUTE,
        analysis,
        by=by,
        before=before,
        after=after,
        digest=digest,
        code=code,
    )
    return analysis


@transaction.atomic
def refuse_analysis(analysis: Analysis, *, refusal: Mapping[str, str], by: Person) -> Analysis:
    """Record why nothing at all could be computed."""
    require(by, Verb.ANALYSIS_REFUSE, analysis)
    analysis = locked(analysis)
    before, after = move(analysis, "refuse")
    analysis.refusal, analysis.computed_at = dict(refusal), timezone.now()
    analysis.save(update_fields=["refusal", "computed_at"])
    record(Verb.ANALYSIS_REFUSE, analysis, by=by, before=before, after=after)
    return analysis


@transaction.atomic
def repeat_analysis(analysis: Analysis, *, by: Person) -> Analysis:
    """Have an analysis run again, so that its numbers can be compared with those it gave.

    Refused when: a version that it reads is no longer held.
    """
    require(by, Verb.ANALYSIS_REPEAT, analysis)
    sources = locked_all(Version, analysis.sources.order_by().values("pk"))
    analysis = locked(analysis)
    if gone := [str(one) for one in sources if one.state != "held"]:
        raise Conflict(
            "It was not run again.",
            _("No longer held: %(gone)s.") % {"gone": ", ".join(gone)},
            "Ask the same analysis of the version that took its place.",
        )
    before, after = move(analysis, "repeat")
    record(Verb.ANALYSIS_REPEAT, analysis, by=by, before=before, after=after)
    return analysis


@transaction.atomic
def name_sitting(
    analysis: Analysis,
    *,
    person: Person,
    dictionary: Dictionary,
    pair: str,
    sat_on: date,
    by: Person,
) -> Analysis:
    """Record whose test an agreement of observers was, and by which dictionary it was coded.

    Refused when: it is no agreement of observers, or has no such pair; the dictionary is of another
    study; the day is to come; one would record one's own.
    """
    require(by, Verb.ANALYSIS_NAME_SITTING, analysis)
    analysis = locked(analysis)
    follows(analysis, "name_sitting")
    what = "The test was not recorded."
    tables = {one["name"]: one["rows"] for one in analysis.result.get("tables", [])}
    row = next((one for one in tables.get("pairs", []) if one[0] == pair), None)
    if analysis.sort != Analysis.Sort.AGREEMENT or row is None:
        raise Unsound(
            what, "It shows no agreement of that pair.", "Choose one of its pairs.",
            fields={"pair": "Choose one of its pairs."},
        )  # fmt: skip
    if dictionary.study_id != analysis.version.dataset.project.study_id:
        raise Unsound(
            what, "The dictionary is of another study.", "Choose one of this study.",
            fields={"dictionary": "Choose one of this study."},
        )  # fmt: skip
    if person.pk == by.pk:
        raise NotPermitted(what, "It is your own test.", "Ask another supervisor or the steward.")
    if sat_on > timezone.localdate():
        raise Unsound(
            what, "That day is still to come.", "Give the day on which it was sat.",
            fields={"sat_on": "This day is still to come."},
        )  # fmt: skip
    _pair, moments, same, _low, _high, kappa, kappa_low, _kappa_high, seen, of = row
    sitting = Sitting.objects.create(
        analysis=analysis,
        dictionary=dictionary,
        person=person,
        pair=pair,
        sat_on=sat_on,
        moments=moments,
        same=same,
        kappa=kappa,
        kappa_low=kappa_low,
        seen=seen,
        of=of,
        recorded_by=by,
    )
    record(
        Verb.ANALYSIS_NAME_SITTING,
        analysis,
        by=by,
        touched=[sitting],
        sitting=sitting.pk,
        observer=person.pk,
        dictionary=dictionary.pk,
    )
    return analysis


@transaction.atomic
def confirm_analysis(analysis: Analysis, *, digest: str, code: str, by: Person) -> Analysis:
    """Record the digest that running it again gave; the first numbers stay as they are."""
    require(by, Verb.ANALYSIS_CONFIRM, analysis)
    analysis = locked(analysis)
    before, after = move(analysis, "confirm")
    analysis.repeated_at = timezone.now()
    analysis.repeated_digest, analysis.repeated_code = digest, code
    analysis.save(update_fields=["repeated_at", "repeated_digest", "repeated_code"])
    record(
        Verb.ANALYSIS_CONFIRM,
        analysis,
        by=by,
        before=before,
        after=after,
        digest=digest,
        code=code,
        alike=analysis.is_confirmed,
    )
    return analysis
