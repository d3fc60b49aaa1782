"""Tags and filters: what they write, and that nothing typed is taken for markup."""

import json
import re
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django import forms
from django.forms import formset_factory
from django.template import Context, Engine
from django.utils import timezone, translation

from registry import tags
from registry.errors import Conflict


def write(source: str, **values: Any) -> str:
    engine = Engine(
        app_dirs=True,
        builtins=["registry.tags"],
        libraries={
            "i18n": "django.templatetags.i18n",
            "static": "django.templatetags.static",
        },
    )
    return str(engine.from_string(source).render(Context(values)))


class Ask(forms.Form):
    reason = forms.CharField(label="Reason", help_text="All read it.", widget=forms.Textarea)
    body = forms.ChoiceField(choices=[("a", "A <b>")], widget=forms.RadioSelect)


@pytest.mark.parametrize(
    ("written", "wanted"),
    [
        (tags.day(date(2024, 3, 3)), "3 Mar 2024"),
        (tags.day(date(2024, 3, 3), "short"), "3 Mar"),
        (tags.day(None), ""),
        # Summer time: 23:30 UTC is the next day in London.
        (tags.day(datetime(2026, 6, 1, 23, 30, tzinfo=UTC)), "2 Jun 2026"),
        (tags.moment(datetime(2026, 11, 24, 8, 40, tzinfo=UTC)), "Tue 24 Nov 2026, 08:40"),
        (
            tags.moment(datetime(2026, 11, 24, 8, 40, tzinfo=UTC), "long"),
            "Tuesday 24 November 2026, 08:40",
        ),
        (tags.span(date(2026, 5, 11), date(2026, 12, 18)), "11 May to 18 Dec 2026"),
        (tags.span(date(2026, 12, 1), date(2027, 2, 26)), "1 Dec 2026 to 26 Feb 2027"),
        (tags.span(date(2026, 12, 1), date(2026, 12, 1)), "1 Dec 2026"),
        (tags.span(date(2026, 12, 1), None), "from 1 Dec 2026"),
        (tags.span(None, date(2026, 12, 1)), "to 1 Dec 2026"),
        (tags.said("taken_on"), "taken on"),
        (tags.count(1, "animal,animals"), "1 animal"),
        (tags.count([1, 2], "animal,animals"), "2 animals"),
        (tags.count(0, "animal,animals"), "no animals"),
        (tags.number(10482), "10 482"),
        (tags.number(1048), "1048"),
        (tags.number(-10482.5), "-10 482.5"),
        (tags.listed(["a", "b", "c"]), "a, b and c"),
        (tags.listed(["a", "<b>"], "or"), "a or &lt;b&gt;"),
        (tags.listed([]), ""),
        (tags.size(1), "1 byte"),
        (tags.size(999), "999 bytes"),
        (tags.size(1000), "1.0 kB"),
        (tags.size(124_300), "124 kB"),
        (tags.size(999_600), "1.0 MB"),
        (tags.size(2_000_000_000), "2.0 GB"),
    ],
)
def test_words_are_written_as_people_here_write_them(written: str, wanted: str) -> None:
    assert written.replace("\u00a0", " ") == wanted


def test_another_language_changes_names_order_and_marks_and_data_keep_theirs() -> None:
    with translation.override("de"):
        assert tags.day(date(2024, 3, 3)).replace("\u00a0", " ") == "3. März 2024"
        assert tags.moment(datetime(2026, 12, 1, 8, 40, tzinfo=UTC), "long").startswith(
            "Dienstag 1. Dezember 2026"
        )
        assert tags.number(10482.5) == "10.482,5"
        assert tags.size(1200).replace("\u00a0", " ") == "1,2 kB"
        assert tags.listed(["a", "b", "c"]) == "a, b und c"
        assert tags.language() == "de"
        assert str(date(2024, 3, 3)) == "2024-03-03"
        assert json.dumps(2.5) == "2.5"
    assert tags.language() == "en-GB"


def test_times_are_those_of_the_collection_whatever_the_language() -> None:
    at = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    for language in ("en-gb", "de", "fr"):
        with translation.override(language):
            assert "00:30" in tags.moment(at, "long")


def test_choices_under_heads_are_shown_under_them() -> None:
    class Places(forms.Form):
        places = forms.MultipleChoiceField(widget=forms.CheckboxSelectMultiple)

    form = Places()
    form.fields["places"].widget.choices = [
        ("In the plan", [("1", "Tank 1"), ("2", "Tank 2")]),
        ("Elsewhere", [("3", "Tank 3")]),
    ]
    html = write("{% field form.places %}", form=form)
    assert html.count("In the plan") == 1
    assert html.index("Tank 2") < html.index("Elsewhere") < html.index("Tank 3")


def test_nearness_is_said_from_today() -> None:
    today = timezone.localdate()
    away = [-3, -1, 0, 1, 3]
    assert [tags.when(today + timedelta(days=d)) for d in away[1:4]] == [
        "Yesterday",
        "Today",
        "Tomorrow",
    ]
    assert tags.near(today + timedelta(days=3)) == "in 3 days"
    assert tags.near(today - timedelta(days=3)) == "3 days ago"


@pytest.mark.parametrize(
    ("word", "tone"),
    [("approved", "held"), ("taken_on", "part"), ("keep off", "barred"), ("expired", "past"),
     ("never heard", "plain")],
)  # fmt: skip
def test_a_state_has_the_square_of_its_kind(word: str, tone: str) -> None:
    said = word.replace("_", " ")
    assert write("{% state word %}", word=word) == f'<span class="state {tone}">{said}</span>'


def test_no_state_has_two_squares() -> None:
    words = [word for group in tags.TONES.values() for word in group.split()]
    assert len(words) == len(set(words))


def test_a_form_keeps_what_was_typed_and_leads_to_each_fault() -> None:
    html = write("{% form form submit='Post' %}", form=Ask({"reason": "", "body": "z"}))
    assert '<a href="#id_reason">Reason: Missing: fill this in.</a>' in html
    assert 'href="#id_body"' in html
    assert 'id="id_body" tabindex="-1" aria-describedby="id_body_error"' in html
    assert 'aria-describedby="id_reason_helptext id_reason_error"' in html
    assert 'aria-invalid="true"' in html
    assert "<span>A &lt;b&gt;</span>" in html
    assert "2 things to put right" in html
    unbound = write("{% form form submit='Post' %}", form=Ask())
    assert "to put right" not in unbound


def test_a_form_carries_the_token_of_its_page_only_when_it_posts() -> None:
    source = "{% form form submit='Post' method=method %}"
    posted = write(source, form=Ask(), method="post", csrf_token="t0ken")
    assert 'value="t0ken"' in posted
    assert "t0ken" not in write(source, form=Ask(), method="get", csrf_token="t0ken")


def test_the_faults_of_a_set_of_forms_are_listed_too() -> None:
    many = formset_factory(Ask, min_num=2, validate_min=True, extra=0)
    data = {"form-TOTAL_FORMS": "1", "form-INITIAL_FORMS": "0", "form-0-reason": "x"}
    html = write("{% errs forms %}", forms=many(data))
    assert 'href="#id_form-0-body"' in html
    assert "at least 2" in html


def test_a_refusal_says_its_three_sentences_escaped() -> None:
    html = write("{% refusal it %}", it=Conflict("What <b>", "Why not.", "Next."))
    assert "What &lt;b&gt;" in html
    assert "<dd>Why not.</dd>" in html
    assert "<dd>Next.</dd>" in html


def test_only_one_button_is_filled() -> None:
    offered = [
        {"label": "Decline", "url": "#d", "is_first": False},
        {"label": "Take on", "url": "#t", "is_first": True},
    ]
    assert write("{% acts acts %}", acts=offered).count("b2") == 1
    assert write("{% acts acts %}", acts=[("A", "#"), ("B", "#")]).count("b2") == 1
    assert write("{% acts acts quiet=True %}", acts=[("A", "#"), ("B", "#")]).count("b2") == 2
    assert not write("{% acts acts %}", acts=[]).strip()


def test_an_empty_fact_is_left_out_of_a_label() -> None:
    html = write("{% label facts %}", facts=[("Embargo", None), ("Rows", 0), ("Owner", "")])
    assert "<dt>Rows</dt><dd>0</dd>" in html
    assert "Embargo" not in html
    assert "Owner" not in html


def test_a_section_names_itself_and_escapes_what_it_is_given() -> None:
    html = write(
        "{% section heading remark=remark %}<p>in</p>{% endsection %}",
        heading="A & b",
        remark="<i>",
    )
    assert 'aria-labelledby="a-b-h"' in html
    assert '<h2 id="a-b-h">A &amp; b</h2>' in html
    assert "&lt;i&gt;" in html
    assert "<p>in</p>" in html


def test_a_note_without_a_year_is_short_and_with_one_is_long() -> None:
    notes = [SimpleNamespace(on=date(2026, 11, 24), text="<b>")]
    assert ">24\u00a0Nov<" in write("{% diary notes %}", notes=notes)
    assert ">24\u00a0Nov\u00a02026<" in write("{% diary notes year=True %}", notes=notes)
    assert "&lt;b&gt;" in write("{% diary notes %}", notes=notes)


@pytest.mark.parametrize(
    ("cell", "seen", "heard"),
    [
        ("EG-01", "EG-01", "EG-01"),
        ("EG-01 ", "EG-01␣", "EG-01 (space)"),
        ("\u00a0EG", "␣EG", " (no-break space)EG"),
        ("a b  c", "a b␣␣c", "a b (space) (space)c"),
        ("12\u202f500", "12␣500", "12 (thin space)500"),
        ("a\tb", "a⇥b", "a (tab)b"),
        ("   ", "␣␣␣", " (space) (space) (space)"),
        ("", "", ""),
        ("<b> ", "&lt;b&gt;␣", "&lt;b&gt; (space)"),
    ],
)
def test_spaces_that_nobody_could_see_are_drawn_and_said(cell: str, seen: str, heard: str) -> None:
    html = tags.gaps(cell)
    hidden = re.compile(r'<span class="vh">(.*?)</span>')
    drawn = re.compile(r'<span class="gap-of" aria-hidden="true">(.)</span>')
    assert drawn.sub(r"\1", hidden.sub("", html)) == seen
    assert hidden.sub(r"\1", drawn.sub("", html)) == heard


def test_the_page_of_last_resort_needs_no_context() -> None:
    html = write("{% include '500.html' %}")
    assert "Something broke on our side." in html
    assert "Skip to the page" in html
