"""Every sentence of a template is marked for translation; what is not marked is found here.

The template is parsed by Django's own engine and its nodes are read in the order of the page, so
that a text between two tags, an attribute and an argument of a tag are all seen.
"""

import re
from collections.abc import Iterator
from inspect import signature
from pathlib import Path
from typing import Any

import pytest
from django.template import Template, engines
from django.template.base import FilterExpression, Node, TextNode, VariableNode
from django.template.library import InclusionNode, SimpleNode
from django.utils.functional import Promise

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = sorted(
    path.relative_to(ROOT)
    for top in ("archive", "registry")
    for path in (ROOT / top).rglob("templates")
)
NAMES = re.compile(
    r"\b(?:Strandline|CSV|JSON|CSL-JSON|DataCite|BibTeX|RIS|CITATION\.cff|SHA-256|UTC|UCUM|ORCID|TLS|dB)\b"
)
"""What stays as it is in every language: names, formats, signs of units."""

SAID = {"alt", "title", "aria-label", "placeholder", "data-h"}
"""Attributes that a person reads; data-h stands before a cell where a table folds on a phone."""

TEXTS = {
    "also", "back_said", "caption", "heading", "intro", "label", "name", "remark", "said",
    "submit", "words",
}  # fmt: skip
"""The arguments of the project's own tags, and of its included parts, that a person reads."""

SAYING = {"count", "default", "default_if_none", "yesno"}
"""Filters whose argument a person reads."""

GAP, MARK = "\ue000", "\ue001"  # where a node stood; where a tag of HTML stood
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_CODE = re.compile(r"<(code|pre|script|style)\b[^>]*>.*?</\1>", re.DOTALL)
_TAG = re.compile(r"""</?[A-Za-z!](?:[^"'>]|"[^"]*"|'[^']*')*>""")
_ATTRIBUTE = re.compile(r"""([\w-]+)=("[^"]*"|'[^']*')""")
_ENTITY = re.compile(r"&#?\w+;")
_RUN = re.compile(f"[^{GAP}{MARK}]+")


def reads_as_words(text: str) -> bool:
    """Tell whether anything is left to translate once names and entities are taken away."""
    return bool(re.search(r"[^\W\d_]", NAMES.sub("", _ENTITY.sub("", text))))


def below(node: Any) -> Iterator[Node]:
    """Give the nodes just below one, in the order of the page."""
    # A block tag of one's own inherits that it has none, and has one all the same.
    for attribute in node.child_nodelists or ("nodelist",):
        yield from getattr(node, attribute, None) or ()


def in_order(nodes: Any) -> Iterator[Node]:
    """Give every node with all that stand below it."""
    for node in nodes:
        yield node
        yield from in_order(below(node))


def literals(expression: Any) -> Iterator[str]:
    """Give the words that stand in an expression itself: a literal, or a filter's argument."""
    if not isinstance(expression, FilterExpression):
        return
    if isinstance(expression.var, str):
        yield expression.var
    for function, arguments in expression.filters:
        name = getattr(function, "_filter_name", "")
        for is_looked_up, argument in arguments:
            if is_looked_up or isinstance(argument, Promise) or not isinstance(argument, str):
                continue
            # add joins ids too; words have a blank or a capital.
            if name in SAYING or (name == "add" and re.search(r"\s|[A-Z]", argument)):
                yield argument


def arguments_of(node: Any) -> Iterator[tuple[str, Any]]:
    """Give the arguments of a tag by name."""
    if isinstance(node, SimpleNode | InclusionNode):
        taken = [name for name in signature(node.func).parameters if name != "context"]
        if hasattr(node, "nodelist"):
            taken = taken[1:]  # what stands inside the block
        yield from zip(taken, node.args, strict=False)
        yield from node.kwargs.items()
        if node.func.__name__ == "state" and not {"words"} & set(node.kwargs) and node.args:
            yield "words", node.args[0]
    yield from (getattr(node, "extra_context", None) or {}).items()
    if isinstance(node, VariableNode):
        yield "words", node.filter_expression


def unmarked_arguments(node: Node) -> Iterator[str]:
    """Give the literal words in what a tag is given."""
    for name, expression in arguments_of(node):
        for words in literals(expression):
            whole = isinstance(expression.var, str) and words is expression.var
            if (not whole or name in TEXTS) and reads_as_words(words):
                yield words


def flattened(nodes: Any) -> tuple[str, list[int]]:
    """Give a template's own text, a gap for each other node, and the line of each letter."""
    letters, lines = [], []
    for node in in_order(nodes):
        text = node.s if isinstance(node, TextNode) else GAP
        line = getattr(getattr(node, "token", None), "lineno", 1)
        for letter in text:
            letters.append(letter)
            lines.append(line)
            line += letter == "\n"
    return "".join(letters), lines


def without_html(text: str, lines: list[int]) -> tuple[str, list[tuple[int, str]]]:
    """Give the text with each tag of HTML taken out, and the words in the attributes said."""
    said = []

    def gone(found: re.Match[str]) -> str:
        for name, value in _ATTRIBUTE.findall(found[0]):
            if name in SAID and reads_as_words(value.replace(GAP, " ")):
                said.append((lines[found.start()], f"{name}={value.replace(GAP, '…')}"))
        return MARK * len(found[0])

    for pattern in (_COMMENT, _CODE):
        text = pattern.sub(lambda found: MARK * len(found[0]), text)
    return _TAG.sub(gone, text), said


def unmarked(source: str, *, is_html: bool = True) -> list[tuple[int, str]]:
    """Give each text of a template that is not marked for translation, with its line."""
    template = Template(source, engine=engines["django"].engine)  # type: ignore[attr-defined]
    nodes = template.nodelist
    text, lines = flattened(nodes)
    found = []
    if is_html:
        text, found = without_html(text, lines)
    found += [
        (lines[run.start()], " ".join(run[0].split()))
        for run in _RUN.finditer(text)
        if reads_as_words(run[0])
    ]
    for node in in_order(nodes):
        if not isinstance(node, TextNode):
            line = getattr(getattr(node, "token", None), "lineno", 1)
            found += [(line, words) for words in unmarked_arguments(node)]
    return sorted(found)


@pytest.mark.parametrize("folder", FOLDERS, ids=str)
def test_every_sentence_of_a_template_is_marked_for_translation(folder):
    files = [path for path in (ROOT / folder).rglob("*") if path.suffix in {".html", ".txt"}]
    assert files
    faults = [
        f"{path.relative_to(ROOT)}:{line}: {text}"
        for path in sorted(files)
        for line, text in unmarked(path.read_text(encoding="utf-8"), is_html=path.suffix == ".html")
    ]
    assert not faults, "\n" + "\n".join(faults)


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("<p>Plain words</p>", "Plain words"),
        ("{% if a %}<p>Deep{% for b in c %}er{% empty %}{% endfor %}</p>{% endif %}", "Deep"),
        ("{% with a=b %}\n\n{% block x %}In a block{% endblock %}{% endwith %}", "In a block"),
        ("{% section a %}<p>In a block of ours</p>{% endsection %}", "In a block of ours"),
        ("{% partialdef a %}<p>In a part</p>{% endpartialdef %}", "In a part"),
        ("{{ a }} to {{ b }}", "to"),
        ('<td data-h="Lives in">{{ a }}</td>', 'data-h="Lives in"'),
        ('<aside aria-label="About {{ a }}">{{ b }}</aside>', 'aria-label="About …"'),
        ('<input{% if a %} disabled{% endif %} placeholder="name">', 'placeholder="name"'),
        ('{% section "A heading" %}{% endsection %}', "A heading"),
        ('{% section a remark="newest first" %}{% endsection %}', "newest first"),
        ('{% include "_parts/label.html" with name="Uses" only %}', "Uses"),
        ('{% state "recorded late" "part" %}', "recorded late"),
        ('{{ a|count:"animal,animals" }}', "animal,animals"),
        ('{% label a|default:"none" %}', "none"),
        ('{% section a|add:", first rows" %}{% endsection %}', ", first rows"),
    ],
)
def test_an_unmarked_sentence_is_seen(source, words):
    assert words in [text for _, text in unmarked(source)]


def test_a_fault_is_told_with_its_line():
    source = "{% load i18n %}\n<p>\n{% translate 'Marked' %}\n\nNot marked</p>"
    assert unmarked(source) == [(3, "Not marked")]
    assert unmarked("{{ name }},\n\nwrite < now\n", is_html=False)[0][1] == ", write < now"


@pytest.mark.parametrize(
    "source",
    [
        "{% load i18n %}<p>{% translate 'Words' %}: {{ a }}&nbsp;{{ b }}</p>",
        "{% load i18n %}{% blocktranslate with a=b %}<b>Words</b> {{ a }}{% endblocktranslate %}",
        '{% section _("Words") remark=_("more") id="words" paint="wide" %}{% endsection %}',
        '{% state "open" words=_("open") %}{% state a.state %}{% state _("late") "part" %}',
        '{{ a|count:_("animal,animals") }}{{ b|date:"Y-m-d" }}{{ c|moment:"long" }}',
        '<a class="btn" href="/x/" lang="la">CSV</a><code>manage.py</code><!-- words -->',
        '<input type="hidden" name="which" value="day_first">',
    ],
)
def test_what_is_marked_or_is_no_sentence_passes(source):
    assert unmarked(source) == []
