"""The template lint finds what it forbids, lets good templates be, and ours are good."""

from pathlib import Path

import pytest

from deploy.lint.templates import lint, main, templates_in

ROOT = Path(__file__).resolve().parents[2]

FORBIDDEN = {
    '<p style="color: red">{{ a }}</p>': "no style attribute",
    "<style>p { color: red }</style>": "no style element",
    "<script>start()</script>": "no inline script",
    '<script type="module">start()</script>': "no inline script",
    '<button onclick="go()">{{ a }}</button>': "no event attribute onclick",
    '<div hx-on:click="go()"></div>': "no hx-on",
    '<div hx-on--after-request="go()"></div>': "no hx-on",
    """<div hx-vals="js:{a: 1}"></div>""": "no script in hx-vals",
    '<a href="javascript:go()">{{ a }}</a>': "no script in href",
    '<input hx-trigger="keyup[target.value]">': "no hx-trigger filter",
    "{{ a|safe }}": "unescaped output",
    "{% autoescape off %}{{ a }}{% endautoescape %}": "unescaped output",
    '<script src="https://elsewhere.example/a.js"></script>': "no script from elsewhere",
    '<img src="//elsewhere.example/a.png" alt="">': "no img from elsewhere",
    '<link rel="stylesheet" href="http://elsewhere.example/a.css">': "no link from elsewhere",
    "<p>Three plots</p>": "untranslated text: 'Three plots'",
    "{% if a %}<b>{{ a }} trees</b>{% endif %}": "untranslated text: 'trees'",
    '<nav aria-label="Main"></nav>': "untranslated aria-label: 'Main'",
    '<img src="/a.png" alt="A plot">': "untranslated alt",
    '{% include "partials/empty.html" with title=a %}': "ends in `only`",
    '{% include "partials/empty.html" with title="No plots" only %}': "untranslated text: 'No plots'",
    '<form method="post"><button>{{ a }}</button></form>': "csrf_token",
}

ALLOWED = [
    '<p class="{% if a %}soft{% else %}late{% endif %}">{% translate "Three plots" %}</p>',
    "<p>{% blocktranslate trimmed count n=n %}One plot{% plural %}{{ n }} plots{% endblocktranslate %}</p>",
    '<script type="application/json" id="shapes">{"type": "Feature"}</script>',
    '<script src="{% static \'js/site.js\' %}" type="module"></script>',
    '<a href="https://doi.org/10.1000/1">{{ source }}</a>',
    "{{ a|safe }}{# our own drawing, escaped where it is made #}",
    '{% include "partials/field.html" with field=field only %}',
    '<div hx-get="{{ url }}" hx-trigger="every 2s"></div>',
    "{% block page_class %}page narrow{% endblock %}",
    "<code>visit/1</code> · 12",
    '<form method="post">{% csrf_token %}<button>{{ a }}</button></form>',
    '<form method="get"><button>{{ a }}</button></form>',
    "{% comment %}not shown{% endcomment %}",
]


@pytest.mark.parametrize("source", FORBIDDEN)
def test_each_forbidden_thing_is_found(source):
    messages = [finding.message for finding in lint(source)]
    assert len(messages) == 1
    assert FORBIDDEN[source] in messages[0]


@pytest.mark.parametrize("source", ALLOWED)
def test_what_is_allowed_is_let_be(source):
    assert lint(source) == []


def test_a_short_comment_over_two_lines_is_found_because_it_would_be_printed():
    assert any("spans lines" in finding.message for finding in lint("{# begins\nand ends #}"))


def test_a_finding_names_its_line():
    assert lint("<div>\n{% if a %}\n  <p>\n   words</p>\n{% endif %}</div>")[0].line == 4


def test_a_translated_block_inside_an_attribute_block_does_not_end_it_early():
    source = "{% block page_class %}a {% if b %}c{% endif %} d{% endblock %}<p>words</p>"
    assert [finding.message for finding in lint(source)] == ["untranslated text: 'words'"]


def test_our_templates_are_in_order():
    paths = list(templates_in([ROOT / "templates"]))
    assert len(paths) > 20
    found = [f"{path.relative_to(ROOT)}: {finding}" for path in paths for finding in lint(path.read_text())]
    assert found == []


def test_the_command_prints_findings_and_fails(tmp_path, capsys):
    page = tmp_path / "page.html"
    page.write_text("<p>words</p>")
    assert main([str(tmp_path)]) == 1
    assert capsys.readouterr().out == f"{page}:1: untranslated text: 'words'\n"
    page.write_text("<p>{{ words }}</p>")
    assert main([str(tmp_path)]) == 0
