"""Template tags and filters that every page may use; they are builtins, so nothing need be loaded.

Parts (each renders the file of its name in `_parts/`)
    {% state "taken_on" %}                a written word with its square; tone=, words= override
    {% refusal refusal %}                 what, why not, what next; base.html does it by itself
    {% errs form formset %}               the summary of faults, linked to the fields
    {% form form submit="Post" %}         csrf, errors, fields, one filled button; back= a way out,
                                          also="Keep as draft" also_name="draft" a second button,
                                          action=, method=, quiet=True for no filled button
    {% whose %}                           in a form of one's own: whose it is, beside csrf_token
    {% field form.name %}                 one field: label, help, fault, widget; any widget
    {% filter_form form submit="Show" %}  a row of fields sent by GET
    {% acts acts %}                       buttons: dicts of label, url, is_first, or (label, url);
                                          the first is filled unless quiet=True
    {% pager page said="animal,animals" %}  previous and next, with the query kept
    {% label pairs %}                     facts: (term, fact) or (term, fact, url); paint="wide";
                                          an empty fact is left out
    {% needs items %}                     objects with due (or when, soon), what, why, url, step;
                                          quiet=True for no filled button
    {% diary notes %}                     objects with on, text, url, by, state, state_said
    {% line line %}                       a drawings.Line; an empty one shows nothing
    {% life strip %}                      a drawings.LifeStrip, its key and its table
    {% use_map map %}                     a drawings.UseMap, its key and its tables
    {% staffs staffs %}                   drawings.Staff, side by side, and their key
    {% pair drawing caption="" %}         drawings.Drawn or Places in a figure
    {% drawing svg caption="" %}          one SVG of our own in a figure; bare=True without it
    {% findings groups %}                 groups with kind (must, expl, read), heading, remark,
                                          intro, findings; a finding has number, title, says,
                                          cause, todo, breach, say_head, rows, more, note; a row
                                          has file, row, column, unit, value, say; with is_brief
                                          no file, and a column only where has_columns
    {% to breach.use seen words %}        a link where it may be seen (web.seen_among), else words
    {% progress done of said %}           how far; looks again by itself where scripts run

Blocks
    {% section "Why it matters" remark= remark_url= intro= id= paint= %}…{% endsection %}
    {% scroll "Sessions today" %}<table>…</table>{% endscroll %}   a table that may scroll sideways
    {% nothing "No question waits for you." %}<p>…</p>{% endnothing %}
    {% caution %}<p>…</p>{% endcaution %}

Filters
    day (3 Mar 2024), day:"short" (3 Mar), moment (Tue 24 Nov 2026, 08:40); both with "long",
    span:end (11 May to 18 Dec 2026), when (Today, Tomorrow, 27 Nov), near (in 3 days),
    said (taken_on: taken on), count:"animal,animals", number (10 482), listed (a, b and c),
    listed:"or", size (124 kB), gaps (spaces that would not be seen are drawn)

Tables: `<th scope="row">` first, numbers with class n, units in the heading in a span.unit, class
stack (with data-h on each td) where rows fold on a phone, tight where they are many, wide where
they must keep their width; the caption has class vh where a heading says it already.
"""

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime
from itertools import repeat
from typing import Any

from django import forms
from django.conf import settings
from django.core.paginator import Page
from django.forms.boundfield import BoundField
from django.forms.formsets import BaseFormSet
from django.template import Context, Library
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import slugify
from django.utils.translation import get_language, gettext_lazy, override, to_locale
from django.utils.translation import gettext as _

from registry.drawings import Drawn, LifeStrip, Line, Places, Staff, UseMap
from registry.paging import AtLeast
from registry.saying import (
    NO_BREAK,
    day_said,
    here,
    listed,
    moment_said,
    number_said,
    weekday_said,
)
from registry.typed import BY

register = Library()

type Faulty = forms.BaseForm | BaseFormSet[Any]

TONES = {
    "held": (
        "accepted acknowledged active approved confirmed current enrolled explained free held live "
        "met resolved settled whole open answered_from_held_data"
    ),
    "part": (
        "answered checked collecting drafted due embargoed in_use lent offered opened planned "
        "posted proposed raised reporting requested reviewing submitted taken_on to_be_explained "
        "to_come written"
    ),
    "barred": (
        "abandoned barred begun breach declined erased halted keep_off missed overdue refused "
        "restricted suspended withdrawn"
    ),
    "past": (
        "at_rest closed discarded discharged ended expired lapsed merged parked past released"
    ),
}
TONE_OF = {word: tone for tone, words in TONES.items() for word in words.split()}
"""The square beside each state: in force, under way, stopped, or over."""

# ------------------------------------------------------------------------------------------- words


@register.simple_tag
def language() -> str:
    """Give the page's language as its root element says it: en-GB."""
    return to_locale(get_language() or settings.LANGUAGE_CODE).replace("_", "-")


@register.filter
def day(value: date | None, how: str = "") -> str:
    """Write a day: 3 Mar 2024; short leaves the year out, long writes the names out."""
    return day_said(value, how) if value else ""


@register.filter
def moment(value: datetime | None, how: str = "") -> str:
    """Write a moment in local time: Tue 24 Nov 2026, 08:40; long writes the names out."""
    return moment_said(value, how) if value else ""


@register.simple_tag
def to(obj: Any, seen: Collection[Any], words: object = "") -> str:
    """Lead to an object where it is among those that may be seen; else say it in plain words."""
    said_so = words or obj
    if obj is None or obj not in seen:
        return conditional_escape(str(said_so or ""))
    return format_html('<a href="{}">{}</a>', obj.get_absolute_url(), said_so)


@register.filter
def span(begun: date | None, ended: date | None) -> str:
    """Write two days, with the year once where it is the same."""
    if begun is None or ended is None:
        if begun is not None:
            return _("from %(day)s") % {"day": day(begun)}
        return _("to %(day)s") % {"day": day(ended)} if ended is not None else ""
    first, last = here(begun), here(ended)
    if first == last:
        return day(first)
    begins = day(first, "short" if first.year == last.year else "")
    return _("%(first)s to %(last)s") % {"first": begins, "last": day(last)}


@register.filter
def when(value: date | None) -> str:
    """Write a day as one thinks of it today: Today, Tomorrow, 27 Nov."""
    if value is None:
        return _("No date")
    on, today = here(value), timezone.localdate()
    words = {-1: _("Yesterday"), 0: _("Today"), 1: _("Tomorrow")}
    return words.get((on - today).days) or day(on, "short" if on.year == today.year else "")


@register.filter
def near(value: date | None) -> str:
    """Write how far off a day is: in 3 days, 3 days ago."""
    if value is None:
        return ""
    on = here(value)
    away = (on - timezone.localdate()).days
    if abs(away) <= 1:
        return weekday_said(on)
    return (_("in %(days)s days") if away > 0 else _("%(days)s days ago")) % {"days": abs(away)}


@register.filter
def said(value: object) -> str:
    """Write a stored word as people say it: taken_on becomes taken on."""
    return str(value).replace("_", " ") if value is not None else ""


@register.filter
def number(value: Any) -> str:
    """Write a number with its thousands apart, from five figures on."""
    if value is None or value == "":
        return ""
    if isinstance(value, AtLeast):
        return _("more than %(number)s") % {"number": number(int(value))}
    return number_said(value)


@register.filter
def count(value: Any, words: str) -> str:
    """Write a count with its noun: 1 animal, 3 animals, no animals."""
    one, many = words.split(",")
    amount = value if isinstance(value, int | float) else len(value)
    if amount == 0:
        return _("no %(things)s") % {"things": many}
    return _("%(number)s %(things)s") % {
        "number": number(amount),
        "things": one if amount == 1 else many,
    }


register.filter(listed)


@register.filter
def size(value: float | None) -> str:
    """Write a number of bytes: 124 kB (a kilobyte is 1000 bytes, as the SI has it)."""
    if value is None:
        return ""
    if value < 1000:
        return f"{value}{NO_BREAK}{_('byte') if value == 1 else _('bytes')}"
    amount = float(value)
    for unit in ("kB", "MB", "GB", "TB"):
        amount /= 1000
        if amount < 999.5 or unit == "TB":
            return f"{number_said(amount, 1 if amount < 9.95 else 0)}{NO_BREAK}{unit}"
    raise AssertionError


# ------------------------------------------------------------------------------------------ states


_PLAINER = {"kept": gettext_lazy("lives here")}
"""States whose own word tells little where it stands alone."""


_GAPS = {
    " ": ("␣", gettext_lazy("space")),
    "\u00a0": ("␣", gettext_lazy("no-break space")),
    "\u202f": ("␣", gettext_lazy("thin space")),
    "\t": ("⇥", gettext_lazy("tab")),
    "\r": ("↵", gettext_lazy("line break")),
    "\n": ("↵", gettext_lazy("line break")),
    "\u200b": ("␣", gettext_lazy("space without width")),
    "\ufeff": ("␣", gettext_lazy("byte order mark")),
}


@register.filter
def gaps(value: object) -> SafeString:
    """Draw the spaces of a cell that would not be seen: at its ends, two together, odd ones."""
    text = str(value)
    inner = len(text) - len(text.lstrip()), len(text.rstrip())
    return format_html_join(
        "",
        "{}",
        ((_drawn(sign) if _is_unseen(text, at, inner) else sign,) for at, sign in enumerate(text)),
    )


def _is_unseen(text: str, at: int, inner: tuple[int, int]) -> bool:
    if text[at] not in _GAPS:
        return False
    is_end = not inner[0] <= at < inner[1]
    return is_end or text[at] != " " or text[at - 1] == " " or text[at + 1] == " "


def _drawn(sign: str) -> SafeString:
    drawn, said = _GAPS[sign]
    return format_html(
        '<span class="gap-of" aria-hidden="true">{}</span><span class="vh"> ({})</span>',
        drawn,
        said,
    )


@register.inclusion_tag("_parts/state.html")
def state(word: object, tone: str = "", words: str = "") -> dict[str, str]:
    """Write a state with its square; a word that is in no list has none."""
    key = said(word).strip().lower().replace(" ", "_")
    written = words or str(_PLAINER.get(key, said(word)))
    return {"tone": tone or TONE_OF.get(key, "plain"), "words": written}


# ------------------------------------------------------------------------------------------ blocks


@register.simple_block_tag
def section(
    content: SafeString,
    heading: str,
    remark: str = "",
    remark_url: str = "",
    intro: str = "",
    id: str = "",
    paint: str = "",
) -> SafeString:
    """Open a section: a rule, the heading left, one quiet remark right."""
    with override(settings.LANGUAGE_CODE):  # an address with #life holds in every language
        name = id or slugify(heading)[:40] or "section"
    link = format_html('<a href="{}">{}</a>', remark_url, remark) if remark_url else remark
    return format_html(
        '<section class="sec {}" id="{}" aria-labelledby="{}-h"><header><h2 id="{}-h">{}</h2>{}'
        "</header>{}{}</section>",
        paint,
        name,
        name,
        name,
        heading,
        format_html("<p>{}</p>", link) if remark else "",
        format_html('<p class="intro">{}</p>', intro) if intro else "",
        content,
    )


@register.simple_block_tag
def scroll(content: SafeString, name: str) -> SafeString:
    """Wrap a table that may scroll sideways, so that a keyboard can reach and move it."""
    return format_html(
        '<div class="scroll" tabindex="0" role="region" aria-label="{}">{}</div>',
        _("Table: %(name)s") % {"name": name},
        content,
    )


@register.simple_block_tag
def nothing(content: SafeString, heading: str) -> SafeString:
    """Say that nothing is here, why, and one way on."""
    return format_html('<div class="empty"><p><b>{}</b></p>{}</div>', heading, content)


@register.simple_block_tag
def caution(content: SafeString, id: str = "caution") -> SafeString:
    """Frame a warning of harm; the word comes first. One beside the page's own is a note, so that
    no two landmarks bear one name.
    """
    return format_html(
        '<aside class="caution"{} aria-labelledby="{}"><h2 id="{}">{}</h2>{}</aside>',
        "" if id == "caution" else mark_safe(' role="note"'),
        id,
        id,
        _("CAUTION"),
        content,
    )


# ------------------------------------------------------------------------------------------- forms


def _kind(bound: BoundField) -> str:
    widget = bound.field.widget
    if bound.is_hidden:
        return "hidden"
    if isinstance(widget, forms.RadioSelect | forms.CheckboxSelectMultiple):
        return "picks"
    if isinstance(widget, forms.CheckboxInput):
        return "tick"
    return "group" if bound.use_fieldset else "plain"


def _name_parts(bound: BoundField) -> None:
    """Give each part of a field of several inputs a name of its own."""
    widget = bound.field.widget
    if isinstance(widget, forms.MultiWidget):
        split = isinstance(widget, forms.SplitDateTimeWidget)
        for i, part in enumerate(widget.widgets):
            word = (_("day"), _("time"))[i] if split else _("part %(number)s") % {"number": i + 1}
            part.attrs.setdefault("aria-label", f"{bound.label}, {word}")


def _heads(widget: Any) -> Iterable[str]:
    """Give, for each choice of a list, the group under which it stands; none as a rule."""
    if not isinstance(widget.choices, list):
        yield from repeat("")
    for value, said_so in widget.choices:
        is_group = isinstance(said_so, list | tuple)
        yield from [str(value)] * len(said_so) if is_group else [""]


@register.inclusion_tag("_parts/field.html")
def field(bound: BoundField, bare: bool = False) -> dict[str, Any]:
    """Show one field of a form, whatever its widget; bare leaves out the word optional."""
    kind = _kind(bound)
    _name_parts(bound)
    picks = list(zip(_heads(bound.field.widget), bound, strict=False)) if kind == "picks" else []
    return {
        "picks": picks,
        "field": bound,
        "kind": kind,
        "is_optional": not bare and not bound.field.required and kind != "tick",
        "is_file": isinstance(bound.field.widget, forms.FileInput),
    }


def _faults(faulty: Faulty) -> Iterable[tuple[str, str]]:
    if isinstance(faulty, BaseFormSet):
        yield from (("", str(fault)) for fault in faulty.non_form_errors())
        for form in faulty.forms:
            yield from _faults(form)
        return
    for name, faults in faulty.errors.items():
        bound = faulty[name] if name in faulty.fields else None
        for fault in faults:
            if bound is None:
                yield "", str(fault)
            else:
                yield bound.auto_id, f"{bound.label}: {fault}"


@register.inclusion_tag("_parts/errs.html", takes_context=True)
def errs(context: Context, *forms_shown: Faulty | None) -> dict[str, Any]:
    """List the faults of some forms, each linked to its field."""
    shown = [form for form in forms_shown if form is not None and form.is_bound]
    return {
        "faults": [fault for form in shown for fault in _faults(form)],
        "refusal": context.get("refusal"),  # where there is one, it has the focus
    }


@register.simple_tag(takes_context=True)
def whose(context: Context) -> SafeString:
    """Say in a form whose it is, so that what is typed can be given back to them alone."""
    person = context.get("person")
    if person is None:
        return mark_safe("")
    return format_html('<input type="hidden" name="{}" value="{}">', BY, str(person.pk))


_SAVE = gettext_lazy("Save")
_LEAVE = gettext_lazy("Leave without saving")
_SHOW = gettext_lazy("Show")


@register.inclusion_tag("_parts/form.html", takes_context=True, name="form")
def whole_form(
    context: Context,
    form: forms.BaseForm,
    submit: str | Promise = _SAVE,
    *,
    back: str = "",
    back_said: str | Promise = _LEAVE,
    also: str = "",
    also_name: str = "also",
    action: str = "",
    method: str = "post",
    quiet: bool = False,
    id: str = "",
) -> dict[str, Any]:
    """Show a form whole; the csrf token and whose form it is are taken from the page."""
    return {
        "form": form,
        "submit": submit,
        "back": back,
        "back_said": back_said,
        "also": also,
        "also_name": also_name,
        "action": action,
        "method": method,
        "quiet": quiet,
        "id": id,
        "person": context.get("person"),
        "refusal": context.get("refusal"),
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("_parts/filter.html")
def filter_form(
    form: forms.BaseForm, submit: str | Promise = _SHOW, action: str = ""
) -> dict[str, Any]:
    """Show a form in one row, sent by GET."""
    return {"form": form, "submit": submit, "action": action}


# ------------------------------------------------------------------------------------------- parts


@register.inclusion_tag("_parts/refusal.html")
def refusal(refusal: object, focus: bool = True) -> dict[str, Any]:
    """Show a refusal: what, why not, what next."""
    return {"refusal": refusal, "focus": focus}


@register.inclusion_tag("_parts/acts.html")
def acts(offered: Sequence[Any] | None, quiet: bool = False) -> dict[str, Any]:
    """Show the deeds that are open as buttons, the first one filled."""
    buttons = [
        dict(act) if isinstance(act, dict) else {"label": act[0], "url": act[1]}
        for act in offered or ()
    ]
    if buttons and not quiet and not any(button.get("is_first") for button in buttons):
        buttons[0]["is_first"] = True
    return {"acts": buttons, "quiet": quiet}


_ROWS = gettext_lazy("row,rows")


@register.inclusion_tag("_parts/pager.html", takes_context=True)
def pager(context: Context, page: Page[Any], said: str | Promise = _ROWS) -> dict[str, Any]:
    """Show where in a list one is, and the ways to the pages before and after."""
    return {"page": page, "words": said, "request": context.get("request")}


@register.inclusion_tag("_parts/label.html")
def label(pairs: Iterable[Sequence[Any]], paint: str = "") -> dict[str, Any]:
    """Show facts as a museum label does; a fact that is empty is left out."""
    facts = [
        {"term": pair[0], "fact": pair[1], "url": pair[2] if len(pair) > 2 else ""}
        for pair in pairs
        if pair[1] is not None and pair[1] != ""
    ]
    return {"facts": facts, "paint": paint}


@register.inclusion_tag("_parts/needs.html")
def needs(items: Sequence[Any], quiet: bool = False) -> dict[str, Any]:
    """Show what needs someone, soonest first; only the first button is filled, or none."""
    return {"items": items, "quiet": quiet}


@register.inclusion_tag("_parts/diary.html")
def diary(notes: Sequence[Any], year: bool = False) -> dict[str, Any]:
    """Show dated notes."""
    return {"notes": notes, "how": "" if year else "short", "paint": "dated" if year else ""}


@register.inclusion_tag("_parts/findings.html")
def findings(groups: Sequence[Any]) -> dict[str, Any]:
    """Show the findings of a check in their groups."""
    return {"groups": groups}


@register.inclusion_tag("_parts/progress.html")
def progress(done: int, of: int, said: str = "") -> dict[str, Any]:
    """Show how far a task is."""
    share = 100 * done // of if of else 0
    return {"done": done, "of": of, "said": said, "share": share}


# ---------------------------------------------------------------------------------------- drawings


_THE_LINE = gettext_lazy("The line, from question to answer")


@register.inclusion_tag("_parts/line.html")
def line(line: Line | None, heading: str | Promise = _THE_LINE) -> dict[str, Any]:
    """Show the line over its list of deeds."""
    # The drawing escapes every caption itself (drawings.ink.text).
    return {
        "line": line,
        "heading": heading,
        "large": mark_safe(line.large) if line else "",
        "small": mark_safe(line.small) if line else "",
    }


@register.inclusion_tag("_parts/life.html")
def life(strip: LifeStrip) -> dict[str, Any]:
    """Show a life strip over its key and its table."""
    return {"strip": strip, "large": mark_safe(strip.large), "small": mark_safe(strip.small)}


@register.inclusion_tag("_parts/use_map.html")
def use_map(map: UseMap) -> dict[str, Any]:
    """Show a use map under its key, over its tables."""
    return {"map": map, "large": mark_safe(map.large), "small": mark_safe(map.small)}


@register.inclusion_tag("_parts/staffs.html")
def staffs(staffs: Sequence[Staff]) -> dict[str, Any]:
    """Show limits side by side over one key."""
    return {
        "staffs": [(staff, mark_safe(staff.svg)) for staff in staffs],
        "is_asking": any(staff.asked for staff in staffs),
    }


@register.simple_tag
def drawing(svg: str, caption: str = "", bare: bool = False) -> SafeString:
    """Show one SVG made by registry.drawings."""
    drawn = mark_safe(svg)
    if bare:
        return drawn
    said_under = format_html("<figcaption>{}</figcaption>", caption) if caption else ""
    return format_html('<figure class="draw">{}{}</figure>', drawn, said_under)


@register.simple_tag
def pair(drawn: Drawn | Places, caption: str = "") -> SafeString:
    """Show a drawing made for two widths."""
    return drawing(drawn.large + drawn.small, caption)
