"""HTML taken apart, to look at what a browser would make of it."""

from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


class Markup(HTMLParser):
    """Elements in order with their attributes, the text, and whether what was opened was closed again."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.pieces: list[tuple[str, ...]] = []
        self.declared: list[str] = []
        self._open: list[str] = []
        self.crossed: list[str] = []
        self.feed(html)
        self.close()
        self.unclosed = self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.elements.append((tag, given))
        self.pieces.append(("open", tag, *(f"{name}={value}" for name, value in sorted(given.items()))))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        self.pieces.append(("close", tag))
        if not self._open or self._open.pop() != tag:
            self.crossed.append(tag)

    def handle_data(self, data: str) -> None:
        self.pieces.append(("text", data))

    def handle_comment(self, data: str) -> None:
        self.declared.append(data)

    def unknown_decl(self, data: str) -> None:
        self.declared.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(piece[1] for piece in self.pieces if piece[0] == "text").split())

    @property
    def main(self) -> str:
        """The text inside `<main>`: what is the page's own, without the frame that all pages have."""
        inside, found = False, []
        for kind, what, *_ in self.pieces:
            inside = kind == "open" if what == "main" and kind != "text" else inside
            found += [what] if inside and kind == "text" else []
        return " ".join("".join(found).split())

    def all(self, tag: str) -> list[dict[str, str]]:
        return [given for name, given in self.elements if name == tag]

    def headings(self) -> list[int]:
        return [int(tag[1]) for tag, _ in self.elements if len(tag) == 2 and tag[0] == "h" and tag[1].isdigit()]
