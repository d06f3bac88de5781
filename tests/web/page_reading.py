"""Reads a page as a browser would: its text, links, forms, headings, and whatever is wrong with it."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = frozenset(
    ("area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr")
)
"""HTML Living Standard, 13.1.2: elements without an end tag."""

_INLINE = frozenset(["a", "b", "bdi", "span", "time", "label"])

_FOREIGN = frozenset(["path", "rect", "use"])
"""Elements of SVG that we write closed at once."""


@dataclass
class Form:
    """A form: where it goes, its fields in order, and the names and values of its buttons."""

    method: str
    action: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    buttons: list[tuple[str, str]] = field(default_factory=list)

    def all(self, name):
        return [value for known, value in self.fields if known == name]


@dataclass
class Page:
    """What stands on a page."""

    text: str = ""
    links: list[str] = field(default_factory=list)
    forms: list[Form] = field(default_factory=list)
    headings: list[int] = field(default_factory=list)
    tags: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def forms_to(self, end, kind=None):
        """Return the forms whose address ends so, of a kind of note."""
        found = [one for one in self.forms if one.action.endswith(end)]
        return [one for one in found if kind is None or one.all("kind") == [kind]]

    def with_tag(self, tag):
        return [attributes for known, attributes in self.tags if known == tag]


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.page, self.open, self.texts = Page(), [], []

    def handle_starttag(self, tag, attrs):
        self._see(tag, attrs)
        self.texts.append("" if tag in _INLINE else " ")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self._see(tag, attrs)
        if tag not in _FOREIGN:
            self.page.faults.append(f"<{tag}/> is closed at once")

    def _see(self, tag, attrs):
        page, told = self.page, {name: value or "" for name, value in attrs}
        page.tags.append((tag, told))
        names = [name for name, _ in attrs]
        page.faults += [f"{tag} has {name} twice" for name in set(names) if names.count(name) > 1]
        page.faults += [f"{tag} has {name}" for name in names if name.startswith("on") or name == "style"]
        if tag in ("script", "iframe", "object", "embed", "img", "link") and told.get("rel") != "icon":
            page.faults.append(f"<{tag}> has no place here")
        if tag == "a":
            page.links.append(told["href"])
        if tag in ("h1", "h2", "h3", "h4", "h5", "h6"):
            page.headings.append(int(tag[1]))
        self._see_form(tag, told)

    def _see_form(self, tag, told):
        page = self.page
        if tag == "form":
            if "form" in self.open:
                page.faults.append("a form in a form")
            page.forms.append(Form(told["method"], told["action"]))
        elif tag in ("input", "select") and "name" in told:
            page.forms[-1].fields.append((told["name"], told.get("value", "")))
        elif tag == "button":
            page.forms[-1].buttons.append((told.get("name", ""), told.get("value", "")))

    def handle_endtag(self, tag):
        if not self.open or self.open[-1] != tag:
            self.page.faults.append(f"</{tag}> inside {self.open[-1:]}")
        else:
            self.open.pop()
            self.texts.append("" if tag in _INLINE else " ")

    def handle_data(self, data):
        if not self.open or self.open[-1] not in ("style", "title"):
            self.texts.append(data)


def read(html):
    """Return what stands on a page, with every fault of its form."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    page = reader.page
    page.text = " ".join("".join(reader.texts).split())
    page.faults += [f"<{tag}> is never closed" for tag in reader.open]
    if not html.startswith("<!doctype html>"):
        page.faults.append("the page does not begin with its doctype")
    page.faults += _of_ids(page) + _of_headings(page) + _of_labels(page)
    return page


def _of_ids(page):
    ids = [told["id"] for _, told in page.tags if "id" in told]
    twice = sorted({one for one in ids if ids.count(one) > 1})
    named = [
        told[name] for _, told in page.tags for name in ("aria-labelledby", "for", "list") if name in told
    ]
    return [f"id {one} twice" for one in twice] + [f"no id {one}" for one in named if one not in ids]


def _of_headings(page):
    faults = [] if page.headings.count(1) == 1 else [f"{page.headings.count(1)} first headings"]
    first = [0, *page.headings]
    return faults + [f"h{b} after h{a}" for a, b in zip(first, page.headings, strict=False) if b > a + 1]


def _of_labels(page):
    labelled = {told["for"] for tag, told in page.tags if tag == "label" and "for" in told}
    return [
        f"{told['name']} has no label" for tag, told in page.tags
        if tag in ("input", "select") and "name" in told
        and told.get("type") not in ("hidden", "checkbox", "radio") and told.get("id") not in labelled
    ]  # fmt: skip
