"""Pages about concerns: raise one, follow one, handle them."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache

from registry.oversight.actions.concerns import digest_of_code
from registry.oversight.forms.concerns import DEEDS, FOLLOW, RAISE, Follow, RaiseConcern
from registry.oversight.models import Concern, ConcernNote
from registry.permissions import Verb, allowed, may
from registry.web import acts_on, deed_view, page_of, person_of, seen_or_404

concern_deed = deed_view(Concern, DEEDS)


@never_cache
def raise_concern(request: HttpRequest) -> HttpResponse:
    """Raise a concern, signed in or not; the code is shown on this one answer."""
    person = person_of(request)
    sent = request.method == "POST"
    form = RaiseConcern(request.POST if sent else None, by=person, initial=request.GET.dict())
    if sent and form.is_valid():
        concern = form.act()
        return render(
            request,
            "oversight/concern_raised.html",
            {"concern": concern, "code": form.code},
            status=201,
        )
    context = {"deed": RAISE, "form": form, "subject": None, "refusal": None, "back": ""}
    return render(request, "_deed.html", context, status=422 if sent else 200)


@never_cache
def follow_concern(request: HttpRequest) -> HttpResponse:
    """Show what became of a concern to whoever has its code, and take their answer."""
    sent, person = request.method == "POST", person_of(request)
    form = Follow(request.POST if sent else None, by=person)
    found = None
    if sent and form.is_valid():
        digest = digest_of_code(form.cleaned_data["code"])
        found = Concern.objects.filter(follow_up_digest=digest).first()
        if found is None:
            form.add_error("code", _("No concern has this code; look at the letters again."))
        elif form.cleaned_data["text"].strip():
            form.act()
            messages.success(request, FOLLOW.done)
            form = Follow(initial={"code": form.cleaned_data["code"]}, by=person)
    status = 422 if sent and found is None else 200
    notes = found.notes.exclude(sort=ConcernNote.Sort.CHECK) if found else []
    context = {"deed": FOLLOW, "form": form, "found": found, "notes": notes}
    return render(request, "oversight/concern_follow.html", context, status=status)


@login_required
def concern_list(request: HttpRequest) -> HttpResponse:
    """List the concerns that one handles or raised."""
    found = allowed(Concern.objects.all(), person_of(request), Verb.CONCERN_SEE)
    found = found.select_related("animal", "project__study", "raiser")
    return render(request, "oversight/concern_list.html", {"page": page_of(request, found)})


@login_required
def concern(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one concern to those who handle it."""
    person = person_of(request)
    rows = Concern.objects.select_related("animal", "project__study", "raiser", "named")
    shown = seen_or_404(rows, person, pk)
    notes = shown.notes.select_related("written_by")
    if not may(person, Verb.CONCERN_TAKE_UP, shown) and not may(person, Verb.CONCERN_REOPEN, shown):
        notes = notes.exclude(sort=ConcernNote.Sort.CHECK)  # whoever raised it does not handle it
    context = {"concern": shown, "notes": notes, "acts": acts_on(shown, person)}
    return render(request, "oversight/concern.html", context)
