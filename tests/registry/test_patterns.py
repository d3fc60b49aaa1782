"""Every shared part on one page, looked at by a real browser: wide and narrow, light and dark."""

import mimetypes
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django import forms
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.template.backends.django import DjangoTemplates
from django.test import RequestFactory, override_settings
from django.urls import include, path
from django.utils import timezone
from playwright.sync_api import Browser, Page, Route

import registry
from registry import drawings
from registry.errors import Conflict

HERE = Path(__file__).parent
STATIC = Path(registry.__file__).parent / "static"
TODAY = date(2026, 11, 24)
ADDRESS = "http://localhost/"
HTML = "text/html; charset=utf-8"
STRICT = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'"
)


def _anywhere(_request: object, **_: object) -> HttpResponse:
    return HttpResponse()


urlpatterns = [
    path("", _anywhere, name="today"),
    path("search/", _anywhere, name="search"),
    path("in/", _anywhere, name="sign_in"),
    path("out/", _anywhere, name="sign_out"),
    path("words/", _anywhere, name="words"),
    path("help/", _anywhere, name="help"),
    path(
        "oversight/",
        include(([path("concern/", _anywhere, name="raise_concern")], "oversight")),
    ),
]


class Changes(forms.Form):
    """One widget of each kind."""

    reason = forms.CharField(
        label="Reason",
        help_text="The applicants will read it.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    wanted_by = forms.DateField(label="Answer wanted by")
    copy_to = forms.CharField(label="Copy to", required=False, help_text="A name or an address.")
    body = forms.ChoiceField(label="Body", choices=[("c", "Committee"), ("e", "Ethics body")])
    decision = forms.ChoiceField(
        label="Your decision",
        choices=[("a", "Approve"), ("r", "Refuse")],
        widget=forms.RadioSelect,
    )
    conditions = forms.MultipleChoiceField(
        label="Conditions",
        required=False,
        choices=[("1", "A keeper is present at each netting"), ("2", "Weighed before and after")],
        widget=forms.CheckboxSelectMultiple,
    )
    files = forms.FileField(label="Files", required=False, help_text="At most 2 GB in all.")
    held_at = forms.SplitDateTimeField(
        label="Held at", required=False, widget=forms.SplitDateTimeWidget
    )
    sure = forms.BooleanField(label="I have read the plan", help_text="All of it.")
    token = forms.CharField(required=False, widget=forms.HiddenInput)


class Sieve(forms.Form):
    """A filter."""

    as_of = forms.DateField(label="As of", required=False)
    animals = forms.ChoiceField(label="Animals", required=False, choices=[("", "All in any study")])
    person = forms.ChoiceField(label="Person", required=False, choices=[("", "All")])


def _line(count: int = 10) -> drawings.Line:
    done = [
        drawings.Step(
            date(2024, 3, 3) + timedelta(days=i * 980 // count),
            ("Question posted", "Taken on", "Approved, 3 conditions")[i % 3],
            ("Tam Oduya", "I. Vestergaard-Nwosu", "Research committee")[i % 3],
            f"#e{i}",
        )
        for i in range(count)
    ]
    return drawings.line(
        [
            *done,
            drawings.Step(date(2026, 12, 18), "Deposit accepted", "Noor Castellane", done=False),
            drawings.Step(None, "Keepers acknowledge", "Tam Oduya", done=False),
        ],
        TODAY,
    )


def _strip() -> drawings.LifeStrip:
    lanes = ("Lives in", "Restricted", "Enrolled", "Hands-on", "Events")
    tone, shape = drawings.Tone, drawings.Shape
    spans = [
        drawings.Span(lanes[0], date(2024, 1, 1), date(2025, 3, 3), tone.PALE, "Tank 6, the shelf"),
        drawings.Span(lanes[0], date(2025, 3, 3), date(2025, 3, 24), tone.MID, "hospital"),
        drawings.Span(lanes[0], date(2025, 3, 24), None, tone.PALE, "Tank 2, the channel"),
        drawings.Span(lanes[1], date(2026, 4, 1), date(2026, 8, 31), tone.FINE),
        drawings.Span(lanes[1], date(2026, 8, 1), date(2026, 9, 20), tone.HATCHED, "keep off"),
        drawings.Span(lanes[2], date(2024, 5, 20), date(2024, 12, 9), tone.SOLID, "study 6, first"),
        drawings.Span(lanes[2], date(2026, 5, 11), None, tone.SOLID, "study 6, third", by="Ingrid"),
    ]
    moments = [
        drawings.Moment(lanes[3], date(2026, 6, 12), shape.BREACH, number=1, detail="Lifted out"),
        *(drawings.Moment(lanes[3], date(2026, 1, 5) + timedelta(days=30 * i)) for i in range(10)),
        drawings.Moment(lanes[4], date(2024, 2, 14), shape.DOT, "weighed"),
        drawings.Moment(lanes[4], date(2026, 3, 14), shape.DOT, "measured", by="Bryn Halloran"),
    ]
    return drawings.life_strip(
        "Morwen", lanes, spans, moments, date(2024, 1, 1), date(2026, 12, 20), TODAY
    )


def _map() -> drawings.UseMap:
    rows = [
        drawings.UseRow(
            group,
            f"{name}, female" if i else "Papadopoulou-Vandenbroucke",
            tuple((i * 7 + week * week) % 9 % 6 for week in range(47)),
            ((12, 20),) if i % 2 else (),
            ((25, i), (40, i + 20)) if i % 3 == 0 else (),
        )
        for group, name in (("Undulate rays", "Skerry"), ("Seahorses", "Pair B"))
        for i in range(5)
    ]
    return drawings.use_map(rows, date(2026, 1, 5))


def _groups() -> list[dict[str, Any]]:
    row = {
        "file": "checks.csv", "row": 236, "column": "flow_set", "unit": "", "value": "gentel",
        "say": "gentle",
    }  # fmt: skip
    finding = {
        "number": 1, "title": "One word is not in the list", "says": "The dictionary allows three.",
        "todo": "Put the word from the list.", "rows": [row, {**row, "row": 237, "value": ""}],
        "more": "and rows 301 and 302",
    }  # fmt: skip
    breach = {
        **finding, "number": 12, "title": "One string was never enrolled", "breach": "breach 6",
        "say_head": "What the register says",
    }  # fmt: skip
    note = {
        "number": 3, "title": "Tank 39 has no rows after 14 September",
        "says": "The deviation explains it.", "note": "“Tank 39 found empty of water at 08:20.”",
    }  # fmt: skip
    return [
        {"kind": "must", "heading": "Must be put right", "remark": "headings in row 1",
         "intro": "Faults of the table itself.", "findings": [finding]},
        {"kind": "expl", "heading": "To be explained", "findings": [breach]},
        {"kind": "read", "heading": "Only to read", "findings": [note]},
    ]  # fmt: skip


def _needs() -> list[SimpleNamespace]:
    today = timezone.localdate()
    return [
        SimpleNamespace(due=today, what="The restriction on Morwen ends", why="Keep off: raw fin.",
                        url="#a", step="Extend or let end"),
        SimpleNamespace(due=today + timedelta(days=3), what="A condition falls due", why="",
                        url="#b", step="Give the evidence"),
        SimpleNamespace(due=None, when="Soon", soon="no day set", what="A long name: "
                        "Maria-Evangelia Papadopoulou-Vandenbroucke asks", why="", url="#c",
                        step="Answer"),
    ]  # fmt: skip


def render(**more: Any) -> str:
    """Give the patterns page as a browser would get it."""
    form = Changes({"decision": "x", "wanted_by": "31 Nov 2026", "copy_to": "Tam"})
    request = RequestFactory().get("/", {"q": "ray", "page": "2"})
    context = {
        "places": [("Today", "/", False), ("Questions", "/questions/", True)]
        + [(name, f"/{name}/", False) for name in ("Studies", "Animals", "Archive", "Oversight")],
        "person": SimpleNamespace(pk=1, name="Isolde Marrack", roles_said="curator"),
        "site_line": "Skerrywick Aquarium with Norrholm University",
        "as_known": datetime(2026, 11, 24, 8, 40, tzinfo=UTC),
        "ledger_head": 10482,
        "messages": ["The question was posted."],
        "line": _line(),
        "needs": _needs(),
        "page": Paginator(range(348), 50).page(2),
        "facts": [("Animals", "Egg strings"), ("Study", "Study 4", "#"), ("Embargo", None)],
        "notes": [
            SimpleNamespace(on=date(2026, 11, 19), by="Fergus Dunmore", text="No objection."),
            SimpleNamespace(on=TODAY, text="Octopus puzzle boxes", url="#", state="refused"),
        ],
        "acts": [("Add what you have seen", "#"), {"label": "Follow", "url": "#"}],
        "form": form,
        "sieve": Sieve(),
        "refused": Conflict("The session was not planned.", "Sundays are not covered.", "Ask."),
        "staffs": [
            drawings.staff("Seahorses", 8, 4, 8),
            drawings.staff("Keeper hours", 38.5, 14, 60),
            drawings.staff("Hands-on contacts", 61, 24, 96),
        ],
        "strip": _strip(),
        "map": _map(),
        "groups": _groups(),
        "known": drawings.intervals(
            [
                drawings.Group("Still", (53.1, 55.8, 57.2, 60.9), 57.2, (55.1, 59.3)),
                drawings.Group("Gentle", (49.2, 51.0, 52.4, 55.3), 52.4, (50.7, 54.1)),
                drawings.Group("Brisk", (46.5, 50.0), 48.3),
            ],
            "days from laying to hatch",
        ),
        "power": drawings.curves(
            [
                drawings.Curve("4 days", ((2, 0.1), (4, 0.38), (8, 0.7), (12, 0.93))),
                drawings.Curve("8 days", ((2, 0.4), (4, 0.93), (8, 0.99), (12, 0.99))),
            ],
            "tanks per flow",
            "power",
            wanted=0.8,
            marked=4,
            marked_said="what one year can offer",
        ),
        "where": drawings.places(
            [
                drawings.CheckedFile(
                    "checks.csv",
                    444,
                    (
                        drawings.Place(6, drawings.Weight.READ, 101, 104),
                        drawings.Place(2, drawings.Weight.MUST, 171, 171),
                        drawings.Place(5, drawings.Weight.EXPL, 388, 388),
                        drawings.Place(4, drawings.Weight.EXPL, 412, 414),
                    ),
                ),
                drawings.CheckedFile(
                    "hatch.csv", 57, (drawings.Place(3, drawings.Weight.MUST, 19, 19),)
                ),
            ]
        ),
        "bars": drawings.bars([1, 4, 8, 5, 0, 2], "45 to 64", marked=[5]),
        **more,
    }
    # No context processors: they would ask the database, and the parts need only what stands here.
    pages = DjangoTemplates(
        {
            "NAME": "patterns",
            "DIRS": [HERE / "templates"],
            "APP_DIRS": True,
            "OPTIONS": {"builtins": ["registry.tags"]},
        }
    )
    with override_settings(ROOT_URLCONF=__name__):
        return pages.get_template("patterns.html").render(context, request)


def _show(page: Page, html: str) -> None:
    """Serve one page and the static files under the strict policy; nothing else is answered."""

    def answer(route: Route) -> None:
        asked = route.request.url.removeprefix(ADDRESS)
        if not asked:
            route.fulfill(
                body=html,
                content_type=HTML,
                headers={"Content-Security-Policy": STRICT},
            )
            return
        file = STATIC / asked.removeprefix("static/")
        kind = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
        route.fulfill(body=file.read_bytes(), content_type=kind)

    page.route("**/*", answer)
    page.goto(ADDRESS)
    page.evaluate("document.fonts.ready.then(() => document.fonts.size)")


@pytest.fixture(scope="module")
def html() -> str:
    return render()


@pytest.fixture(
    params=[(1280, "light"), (1280, "dark"), (768, "light"), (390, "light"), (390, "dark")],
    ids=lambda param: f"{param[0]}-{param[1]}",
)
def shown(request: pytest.FixtureRequest, browser: Browser, html: str) -> Iterator[Page]:
    width, scheme = request.param
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=scheme, locale="en-GB"
    )
    page = context.new_page()
    page.said = []  # type: ignore[attr-defined]  # what the console said, read by the test
    page.on("console", lambda message: page.said.append(message.text))  # type: ignore[attr-defined]
    _show(page, html)
    yield page
    context.close()


@pytest.mark.browser
def test_the_parts_hold_in_every_width_and_scheme(shown: Page) -> None:
    assert shown.said == [], "the policy refused something, or a file was missing"
    assert shown.evaluate("document.fonts.check('16px \"Brygada 1918\"')")
    wide = shown.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, f"the page runs {wide} px past its edge"
    # axe-core 4: WCAG 2.0 to 2.2, A and AA, and its own best practice.
    found = Axe().run(shown)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.browser
def test_captions_of_the_line_never_touch(shown: Page) -> None:
    boxes = shown.locator(".line > ol > li").evaluate_all(
        "all => all.map(li => { const r = document.createRange(); r.selectNodeContents(li);"
        " const b = r.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom] })"
    )
    assert len(boxes) == 12
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] + 1
            assert apart, (one, other)


@pytest.mark.browser
def test_what_is_pressed_on_a_phone_is_48_px_high(browser: Browser, html: str) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 900})
    _show(page, html)
    low = page.locator(
        ".btn, button, .places a, input:not([type=hidden], .pick input), select, .pick, summary"
    ).evaluate_all(
        "all => all.map(e => [e.getBoundingClientRect().height, e.outerHTML.slice(0, 90)])"
        ".filter(([height]) => height && height < 47.5)"
    )
    page.close()
    assert low == []


@pytest.mark.browser
def test_the_summary_of_faults_takes_the_focus_and_leads_to_the_field(
    browser: Browser, html: str
) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    _show(page, html)
    assert page.evaluate("document.activeElement.className") == "refusal errs"
    page.get_by_role("link", name="Your decision").click()
    assert page.evaluate("document.activeElement.id") == "id_decision"
    page.close()


@pytest.mark.browser
def test_a_file_chooser_says_what_was_chosen(browser: Browser, html: str, tmp_path: Path) -> None:
    page = browser.new_page()
    _show(page, html)
    file = tmp_path / "checks.csv"
    file.write_bytes(b"x" * 2048)
    page.locator("#id_files").set_input_files(file)
    assert page.locator(".chosen li").all_inner_texts() == ["checks.csv, 2 kB"]
    page.close()


@pytest.mark.browser
def test_a_page_that_waits_looks_again_until_the_work_is_done(browser: Browser) -> None:
    page = browser.new_page()
    answers = [render(), render().replace("120 of 501", "300 of 501"), "<p>All checked.</p>"]
    _show(page, answers[0].replace('data-again="3"', 'data-again="0.1"'))
    page.unroute_all()
    left = iter(answers[1:])
    page.route(
        ADDRESS, lambda route: route.fulfill(body=next(left, answers[-1]), content_type=HTML)
    )
    page.get_by_text("300 of 501").wait_for()
    page.get_by_text("All checked.").wait_for()
    page.close()
