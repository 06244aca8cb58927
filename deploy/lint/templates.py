"""Our rules for templates, checked by machine: `python -m deploy.lint.templates [folder or file ...]`.

The content policy would block inline script and style in the browser anyway; this says so before a browser
does, and finds words that nobody could translate.
"""

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

from django.template.base import DebugLexer, Token, TokenType

VARIABLE = "\x00"  # stands for each character the template engine will replace
SPOKEN_ATTRIBUTES = {"alt", "title", "aria-label", "aria-description", "placeholder", "label"}
SPOKEN_PARAMETERS = re.compile(
    r"\b(title|text|label|submit|what|why|shown|name)=(?P<quote>[\"'])(?P<words>.*?)(?P=quote)"
)
WORDLESS_ELEMENTS = {"script", "style", "code", "pre", "kbd", "samp"}
FETCHING = {
    "script": "src",
    "img": "src",
    "iframe": "src",
    "source": "src",
    "link": "href",
    "use": "href",
    "image": "href",
}
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
OUR_NAME = re.compile("tallygrove", re.IGNORECASE)  # a name is the same in every language
ELSEWHERE = re.compile(r"^\s*(https?:)?//", re.IGNORECASE)


@dataclass(frozen=True, order=True)
class Finding:
    """One broken rule at one line."""

    line: int
    message: str


def lint(source: str) -> list[Finding]:
    """Return every broken rule of one template, in order of line.

    >>> lint('<p style="color: red">{{ name }}</p>')
    [Finding(line=1, message='no style attribute: give it a class')]
    """
    tokens = DebugLexer(source).tokenize()
    page = PageRules()
    page.feed(skeleton(source, tokens))
    page.close()
    return sorted({*page.findings, *tag_rules(source, tokens), *form_rules(source)})


def skeleton(source: str, tokens: list[Token]) -> str:
    """The template as bare HTML of the same lines: tags blank, output and translated text as placeholders."""
    parts, spared = [], ""
    for token in tokens:
        text = source[slice(*token.position)]
        words = token.contents.split()
        if token.token_type == TokenType.BLOCK and words:
            spared = "" if words[0] == spared else spared or ends_with(words)
            parts.append(_blank(text, " "))
        elif token.token_type == TokenType.VAR:
            parts.append(_blank(text, VARIABLE))
        elif token.token_type == TokenType.COMMENT:
            parts.append(_blank(text, " "))
        else:
            parts.append(_blank(text, VARIABLE) if spared else text)
    return "".join(parts)


def ends_with(words: list[str]) -> str:
    """The tag that closes text we need not read: translated, commented out, or the inside of an attribute."""
    if words[0] in {"blocktranslate", "blocktrans", "comment"}:
        return f"end{words[0]}"
    if words[0] == "block" and words[-1].endswith(("_class", "_url")):
        return "endblock"
    return ""


def _blank(text: str, filler: str) -> str:
    return re.sub(r"[^\n]", filler, text)


class PageRules(HTMLParser):
    """Rules about elements, attributes and visible text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.findings: list[Finding] = []
        self.open: list[str] = []

    def report(self, message: str) -> None:
        self.findings.append(Finding(self.getpos()[0], message))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        given = {name: value or "" for name, value in attrs}
        for name, value in given.items():
            for message in attribute_rules(name, value):
                self.report(message)
        for message in element_rules(tag, given):
            self.report(message)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in self.open:
            while self.open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if WORDLESS_ELEMENTS.isdisjoint(self.open) and has_words(data):
            lead = data[: len(data) - len(data.lstrip())].count("\n")
            self.findings.append(Finding(self.getpos()[0] + lead, f"untranslated text: {_short(data)}"))


def has_words(text: str) -> bool:
    """Whether letters remain once the engine's own output is taken away."""
    return any(character.isalpha() for character in OUR_NAME.sub("", text))


def _short(text: str) -> str:
    return repr(" ".join(text.replace(VARIABLE, " ").split())[:40])


def attribute_rules(name: str, value: str) -> Iterator[str]:
    """What one attribute may not be."""
    if name == "style":
        yield "no style attribute: give it a class"
    elif name.startswith("hx-on"):
        yield "no hx-on: put behaviour into a module"
    elif name.startswith("on"):
        yield f"no event attribute {name}: put behaviour into a module"
    if name == "hx-trigger" and "[" in value:
        yield "no hx-trigger filter: it needs eval, which the content policy forbids"
    if re.match(r"\s*(js|javascript):", value):
        yield f"no script in {name}"
    if name in SPOKEN_ATTRIBUTES and has_words(value):
        yield f"untranslated {name}: {_short(value)}"


def element_rules(tag: str, given: dict[str, str]) -> Iterator[str]:
    """What one element may not be."""
    if tag == "style":
        yield "no style element: use a style sheet"
    if tag == "script" and "src" not in given and given.get("type") != "application/json":
        yield "no inline script: use a module"
    if tag in FETCHING and ELSEWHERE.match(given.get(FETCHING[tag], "")):
        yield f"no {tag} from elsewhere: every asset is our own"


def tag_rules(source: str, tokens: list[Token]) -> Iterator[Finding]:
    """Rules about template tags: includes end in `only`, `safe` gives its reason, one-line comments."""
    lines = source.splitlines()
    for token in tokens:
        words = token.contents.split()
        if token.token_type == TokenType.BLOCK and words:
            if words[0] == "include" and words[-1] != "only":
                yield Finding(token.lineno, "an include lists what it passes and ends in `only`")
            if words[0] == "include":
                yield from _spoken_parameters(token)
        unsafe = re.search(r"\|\s*safe(seq)?\b", token.contents) or words[:2] == ["autoescape", "off"]
        if (
            token.token_type in {TokenType.VAR, TokenType.BLOCK}
            and unsafe
            and not _explained(lines, token.lineno)
        ):
            yield Finding(
                token.lineno, "unescaped output needs a comment on its line or the line above saying why"
            )
    for number, line in enumerate(lines, start=1):
        if line.count("{#") != line.count("#}"):
            yield Finding(number, "a {# comment #} that spans lines is printed on the page")


def _spoken_parameters(token: Token) -> Iterator[Finding]:
    for match in SPOKEN_PARAMETERS.finditer(token.contents):
        if has_words(match["words"]):
            yield Finding(token.lineno, f"untranslated text: {_short(match['words'])}")


def _explained(lines: list[str], number: int) -> bool:
    return any("{#" in line for line in lines[max(number - 2, 0) : number])


def form_rules(source: str) -> Iterator[Finding]:
    """A form that posts carries the CSRF mark."""
    for match in re.finditer(
        r"<form\b(?P<attributes>[^>]*)>(?P<body>.*?)</form>", source, re.DOTALL | re.IGNORECASE
    ):
        posts = re.search(r"method=[\"']?post", match["attributes"], re.IGNORECASE)
        if posts and "csrf_token" not in match["body"]:
            yield Finding(
                source.count("\n", 0, match.start()) + 1, "a form that posts needs {% csrf_token %}"
            )


def templates_in(paths: list[Path]) -> Iterator[Path]:
    """The HTML templates in files and folders."""
    for path in paths:
        yield from sorted(path.rglob("*.html")) if path.is_dir() else [path]


def main(arguments: list[str]) -> int:
    """Print every finding and return how the process should end."""
    found = 0
    for path in templates_in([Path(argument) for argument in arguments] or [Path("templates")]):
        for finding in lint(path.read_text(encoding="utf-8")):
            found += 1
            print(f"{path}:{finding.line}: {finding.message}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
