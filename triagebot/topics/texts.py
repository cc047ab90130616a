"""The words that people read: a topic's Fluent file and the program's own, in one language, behind one call.

The topic's own words win over the program's. `wording.py` proves that ids, attributes and variables are the right ones.
"""

import re
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fluent.runtime import FluentBundle
from fluent.syntax import FluentParser, ast
from fluent.syntax.errors import ParseError
from fluent.syntax.stream import FluentParserStream

from triagebot.errors import DataError, Problem
from triagebot.topics.marks import Place

#: The package's own folder: its texts lie in `text/<language>.ftl`, as a topic's do.
PROGRAM = Path(__file__).resolve().parent.parent

#: The library refuses values of more than 2,500 characters, which are people's own words.
MOST_OF_A_VALUE = 2_000
_LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")
#: In Fluent: where an entry begins, a name, and text up to where something else begins.
_ENTRY = re.compile(r"^(-?[a-zA-Z][a-zA-Z0-9_-]*) *=", re.MULTILINE)
_NAME, _RUN = re.compile(r"[a-zA-Z][a-zA-Z0-9_-]*"), re.compile(r"[^{}\n]*")


class QuickParser(FluentParser):
    """The library's parser, but names and runs of text are taken at one go: one by one, their characters take most of
    the time of a start. Sources have line ends of one character (`parse` sees to it)."""

    def get_identifier(self, ps: FluentParserStream) -> ast.Identifier:
        start = ps.index
        found = _NAME.match(ps.string, start)
        if found is None:
            raise ParseError("E0004", "a-zA-Z")
        ps.index, ps.peek_offset = found.end(), 0
        node = ast.Identifier(found[0])
        if self.with_spans:
            node.add_span(start, ps.index)
        return node

    def get_text_element(self, ps: FluentParserStream) -> ast.TextElement:
        start = ps.index
        found = _RUN.match(ps.string, start)
        assert found is not None  # it may be empty
        ps.index, ps.peek_offset = found.end(), 0
        node = ast.TextElement(found[0])
        if self.with_spans:
            node.add_span(start, ps.index)
        return node


#: One thread at a time parses.
_PARSING = threading.Lock()


class LaterBundle(FluentBundle):
    """A bundle whose texts are parsed when they are first wanted: no start needs more than a few of them. Several
    threads may want the same one."""

    def __init__(self, language: str) -> None:
        super().__init__([language], use_isolating=False)
        self._sources: dict[str, str] = {}

    def add_source(self, source: str) -> None:
        """Add what stands in a file that is known to be Fluent; what is there already stays."""
        begins = [(found[1], found.start()) for found in _ENTRY.finditer(source)]
        ends = [start for _, start in begins[1:]] + [len(source)]
        for (name, start), end in zip(begins, ends, strict=True):
            self._sources.setdefault(name, source[start:end])

    def has_message(self, message_id: str) -> bool:
        return message_id in self._sources or super().has_message(message_id)

    def _lookup(self, entry_id: str, term: bool = False) -> Any:
        name = f"-{entry_id}" if term else entry_id
        if name in self._sources:
            with _PARSING:
                if (source := self._sources.get(name)) is not None:
                    self.add_resource(QuickParser(False).parse(source))
                    del self._sources[name]  # only now: until then, others find it there
        return super()._lookup(entry_id, term)


def _standing_for(name: str) -> str:
    """What the library is given in place of a value that is too long for it: characters of no text."""
    return f"\ue000{name}\ue001"


class Texts:
    """Texts in one language. A name is a message's id, or id and attribute with a dot between (`question-spin.how`)."""

    __slots__ = ("_bundle", "_file", "language")

    def __init__(self, language: str, bundle: FluentBundle, file: Path) -> None:
        self.language = language
        self._bundle = bundle
        self._file = file

    def __call__(self, name: str, /, **values: Any) -> str:
        """The text, with its variables filled in. Raises DataError for an unknown text or a variable not given."""
        pattern = self._pattern(name)
        if pattern is None:
            raise self._fault(f"there is no text {name!r}")
        long = {each: v for each, v in values.items() if isinstance(v, str) and len(v) > MOST_OF_A_VALUE}
        made, errors = self._bundle.format_pattern(pattern, {**values, **{each: _standing_for(each) for each in long}})
        if errors:
            raise self._fault(f"text {name!r}: {'; '.join(str(error) for error in errors)}")
        text = str(made)
        for each, value in long.items():
            text = text.replace(_standing_for(each), value)
        return text

    def attribute(self, message: str, name: str, /, **values: Any) -> str:
        """The text of a message's attribute. Raises DataError as the call does."""
        return self(f"{message}.{name}", **values)

    def has(self, message: str, attribute: str | None = None) -> bool:
        """Whether there is such a text."""
        return self._pattern(message if attribute is None else f"{message}.{attribute}") is not None

    def _pattern(self, name: str) -> Any:
        message, _, attribute = name.partition(".")
        if not self._bundle.has_message(message):
            return None
        found = self._bundle.get_message(message)
        return found.attributes.get(attribute) if attribute else found.value

    def _fault(self, message: str) -> DataError:
        return DataError(self._file.parent, (Problem(str(self._file), 0, 0, message),))


def languages(folder: Path) -> tuple[str, ...]:
    """The languages that a folder (a topic's, or the program's) has texts in."""
    found = (folder / "text").glob("*.ftl")
    return tuple(sorted(file.stem for file in found if _LANGUAGE.fullmatch(file.stem)))


def text_file(folder: Path, language: str) -> Path:
    """Where a folder's texts in a language lie. Raises DataError when there are none, saying which there are."""
    known = languages(folder)
    if language not in known:
        message = f"there are no texts in {language!r} here; there are: {', '.join(known) or 'none'}"
        raise DataError(folder, (Problem(str(folder / "text"), 0, 0, message),))
    return folder / "text" / f"{language}.ftl"


def proved_texts(topic_folder: Path, language: str, program_folder: Path = PROGRAM) -> Texts:
    """As `load_texts`, of files that were proved to be Fluent: each text is parsed when it is first wanted."""
    bundle = LaterBundle(language)
    files = [text_file(folder, language) for folder in (topic_folder, program_folder)]
    for file in files:
        bundle.add_source(_source(file))
    return Texts(language, bundle, files[0])


def load_texts(topic_folder: Path, language: str, program_folder: Path = PROGRAM) -> Texts:
    """Texts of a topic and of the program in one language. Raises DataError for a file that is missing or no Fluent."""
    files = [text_file(folder, language) for folder in (topic_folder, program_folder)]
    bundle = FluentBundle([language], use_isolating=False)
    problems: list[Problem] = []
    for file in files:
        _, resource, faults = parse(file, with_spans=False)  # nobody asks where a text stands once it is well
        problems.extend(faults)
        bundle.add_resource(resource)
    if problems:
        raise DataError(topic_folder, tuple(problems))
    return Texts(language, bundle, files[0])


def messages(topic_folder: Path, language: str) -> dict[str, str]:
    """A topic's own messages and terms in one language, by id, as Fluent without the comments."""
    from fluent.syntax.serializer import FluentSerializer  # late: no conversation needs it

    found = {}
    for entry in parse(text_file(topic_folder, language))[1].body:
        if isinstance(entry, ast.Message | ast.Term):
            entry.comment = None
            found[entry.id.name] = FluentSerializer().serialize_entry(entry)
    return found


def texts_of(written: Mapping[str, str], language: str, program_folder: Path = PROGRAM) -> Texts:
    """As `load_texts`, with a topic's messages as `messages` gives them."""
    bundle = FluentBundle([language], use_isolating=False)
    bundle.add_resource(QuickParser(with_spans=False).parse("\n".join(written.values())))
    file = text_file(program_folder, language)
    bundle.add_resource(parse(file, with_spans=False)[1])
    return Texts(language, bundle, file)


def parse(file: Path, *, with_spans: bool = True) -> tuple[str, Any, list[Problem]]:
    """A file's text and Fluent resource, and where it is no Fluent. Raises DataError for a file that cannot be read.

    Spans say where each part stands in the text; a resource that is kept takes twice the memory with them."""
    source = _source(file)
    try:
        resource = QuickParser(with_spans).parse(source)
        if not with_spans and any(isinstance(entry, ast.Junk) for entry in resource.body):
            resource = QuickParser().parse(source)
    except RecursionError as error:
        raise DataError(file.parent, (Problem(str(file), 0, 0, "this is not Fluent: braces too deep"),)) from error
    problems = []
    for entry in resource.body:
        if isinstance(entry, ast.Junk):
            note = entry.annotations[0] if entry.annotations else None
            place = place_of(source, note.span if note else entry.span)
            problems.append(Problem(str(file), *place, f"this is not Fluent: {note.message if note else 'unknown'}"))
    return source, resource, problems


def _source(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except OSError as error:
        raise DataError(file.parent, (Problem(str(file), 0, 0, f"cannot be read: {error.strerror}"),)) from error
    except UnicodeDecodeError as error:
        raise DataError(file.parent, (Problem(str(file), 0, 0, "this is not UTF-8"),)) from error


def place_of(source: str, span: Any) -> Place:
    """Line and column, from 1, of a span of Fluent syntax."""
    start = min(span.start, len(source)) if span else 0
    return source.count("\n", 0, start) + 1, start - source.rfind("\n", 0, start)
