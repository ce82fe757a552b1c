"""Whether a rendering that a browser opens keeps to itself: it runs nothing, fetches nothing and can be read."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

__all__ = ["unsafe"]

#: What runs, or shows another document.
_RUNS = ("script", "iframe", "object", "embed", "applet", "frame", "portal", "foreignobject", "base", "link", "form")
_FETCHES = ("src", "href", "srcset", "poster", "data", "background", "action", "formaction", "xlink:href", "ping", "manifest")
_NOT_HERE = re.compile(r"url\(\s*['\"]?(?!['\"]?#)|@import|image-set\(|expression\(", re.IGNORECASE)
_NAMESPACE = re.compile(r"\{[^}]*\}")


def unsafe(medium: str, content: bytes) -> Iterator[str]:
    """Yield what is wrong with a rendering in SVG, another XML or HTML; of other media nothing is known here.

    Examples
    --------
    >>> list(unsafe("image/svg+xml", b'<svg onload="alert(1)"><a href="#here"/><image href="map.png"/></svg>'))
    ['svg has the attribute onload, which runs', 'image fetches map.png through href; draw it, or leave it out']
    """
    if medium.endswith(("+xml", "/xml")):
        yield from _unsafe_xml(content)
    elif medium == "text/html":
        page = _Page()
        page.feed(content.decode())
        page.close()
        yield from page.found


def _unsafe_xml(content: bytes) -> Iterator[str]:
    # A document type could name entities outside; it is looked for before anything is read.
    if b"<!" in content.replace(b"<!--", b"").replace(b"<![CDATA[", b""):
        yield "it declares a document type; leave it out"
        return
    try:
        root = ET.fromstring(content)  # noqa: S314  no document type: nothing is expanded or fetched
    except ET.ParseError as error:
        yield f"it is no well-formed XML ({error})"
        return
    for element in root.iter():
        attributes = {_NAMESPACE.sub("", name): value for name, value in element.attrib.items()}
        yield from _element(_NAMESPACE.sub("", str(element.tag)).lower(), attributes, element.text or "")


def _element(tag: str, attributes: Mapping[str, str | None], text: str) -> Iterator[str]:
    if tag in _RUNS:
        yield f"it has an element {tag}; leave it out"
    if tag == "style" and _NOT_HERE.search(text):
        yield "its style fetches; keep it all within"
    for name, value in attributes.items():
        told = (value or "").strip()
        if name.lower().startswith("on"):
            yield f"{tag} has the attribute {name}, which runs"
        elif name.lower() in _FETCHES and not told.startswith(("#", "https://") if tag == "a" else "#"):
            yield f"{tag} fetches {told} through {name}; draw it, or leave it out"
        elif name.lower() not in _FETCHES and _NOT_HERE.search(told):
            yield f"{tag} fetches through {name}; keep it all within"


class _Page(HTMLParser):
    """What is found in a page while it is read."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._in_style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._in_style = tag == "style"
        self.found += _element(tag, dict(attrs), "")

    def handle_endtag(self, tag: str) -> None:
        self._in_style = self._in_style and tag != "style"

    def handle_data(self, data: str) -> None:
        if self._in_style:
            self.found += _element("style", {}, data)
