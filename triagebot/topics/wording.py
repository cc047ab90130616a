"""Which texts a topic needs, and whether every language has them with the same variables.

This file knows how the id of a text follows from the catalogue and the flow, and which variables the program fills in.
An attribute is written after a dot.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fluent.syntax import ast
from fluent.syntax.visitor import Visitor

from triagebot.errors import DataError, Problem
from triagebot.topics.enquiries import enquiry_texts, optional_enquiry_texts
from triagebot.topics.marks import Files, Place
from triagebot.topics.procedure_rows import EXITS
from triagebot.topics.schema import Flow
from triagebot.topics.texts import languages, parse, place_of, text_file
from triagebot.topics.topic import Topic

CATALOGUE, FLOW, PROCEDURES = "catalogue.yaml", "flow.yaml", "procedures.yaml"

SIGNALS = ("warning", "caution", "notice")
DIRECTIONS = ("anticlockwise", "clockwise", "none")

#: The variables of a refitting text whose fastenings all have a torque: N·m, N at the handle, mm of handle.
TORQUE = frozenset({"torque", "kilos", "handle"})


@dataclass(frozen=True, slots=True)
class Need:
    """A text that must be there, and the entry that asks for it. `given` variables may be shown, `used` ones must;
    without a `must` it may be left out: something longer stands for it then."""

    file: str
    path: tuple[Any, ...]
    given: frozenset[str] = frozenset()
    used: frozenset[str] = frozenset()
    must: bool = True


@dataclass(frozen=True, slots=True)
class Text:
    """A text that is there: where, its variables, and the other texts that it refers to."""

    place: Place
    variables: frozenset[str]
    references: frozenset[str]


def wanted_texts(topic: Topic) -> dict[str, Need]:
    """Every text that a topic needs, by id (or id.attribute)."""
    return {**_catalogue_texts(topic), **dict(_flow_texts(topic.flow)), **dict(_procedure_texts(topic))}


def _procedure_texts(topic: Topic) -> Iterator[tuple[str, Need]]:
    for place, procedure in enumerate(topic.procedures):
        for trouble, helps in procedure.also.items():
            for number, each in enumerate(helps):
                yield f"help-{each}", Need(PROCEDURES, ("procedures", place, "also", trouble, number))
        for at, step in enumerate(procedure.steps):
            path = ("procedures", place, "steps", at)
            need, name = Need(PROCEDURES, (*path, "id")), f"procedure-{procedure.id}-{step.id}"
            if not step.refit:
                yield name, need
                yield f"{name}.watch", need
            for said in (*EXITS, "check"):
                yield f"{name}.{said}", Need(need.file, need.path, must=False)
            for kind, exits in (("exits", step.exits), ("also", step.also)):
                for trouble, helps in exits.items():
                    for number, each in enumerate(helps):
                        yield f"help-{each}", Need(PROCEDURES, (*path, kind, trouble, number))
            if step.picture is not None:
                yield f"picture-{step.picture}", Need(PROCEDURES, (*path, "picture"))
    for said in EXITS if topic.procedures else ():
        yield f"exit-{said}", Need(PROCEDURES, ("procedures",))


def _flow_texts(flow: Flow) -> Iterator[tuple[str, Need]]:
    value = frozenset({"value"})
    yield "topic-name", Need(FLOW, ("topic",))
    yield "topic-purpose", Need(FLOW, ("topic",))
    for place, question in enumerate(flow.questions):
        path = ("questions", place)
        name = f"question-{question.id}"
        for part in ("", ".short", ".again", ".how", ".name"):
            yield name + part, Need(FLOW, (*path, "id"))
        for part in (".touched", ".called", ".later", ".beforehand", ".why"):
            yield name + part, Need(FLOW, (*path, "id"), must=False)
        if question.kind != "choice":
            yield f"{name}.said", Need(FLOW, (*path, "id"), value, value)
            yield f"{name}.brief", Need(FLOW, (*path, "id"), value, value, must=False)
            for other in (each.id for each in flow.questions if each.kind == "choice"):
                given = value | {other}
                yield f"{name}.with-{other}", Need(FLOW, (*path, "id"), given, given, must=False)
        for item, choice in enumerate(question.choices):
            need = Need(FLOW, (*path, "choices", item))
            yield f"choice-{question.id}-{choice}", need
            yield f"choice-{question.id}-{choice}.said", need
            for part in (".denied", ".brief", ".echo"):
                yield f"choice-{question.id}-{choice}{part}", Need(need.file, need.path, must=False)
            if question.purpose == "ability":
                yield f"ability-{question.id}-{choice}", need
                yield f"ability-{question.id}-{choice}.first", Need(need.file, need.path, must=False)
                yield f"choice-{question.id}-{choice}.aside", Need(need.file, need.path, must=False)
        if question.picture is not None:
            yield f"picture-{question.picture}", Need(FLOW, (*path, "picture"))
    for top, rows in (("referrals", flow.referrals), ("shop-referrals", flow.shop_referrals)):
        for place, row in enumerate(rows):
            yield f"referral-{row.question}-{row.choice}", Need(FLOW, (top, place))


def _catalogue_texts(topic: Topic) -> dict[str, Need]:
    catalogue = topic.catalogue
    wanted: dict[str, Need] = {}
    for place, row in enumerate(catalogue.fastenings):
        path = ("fastenings", place)
        wanted[f"fastening-{row.id}"] = wanted[f"fastening-{row.id}.short"] = Need(CATALOGUE, (*path, "id"))
        wanted[f"fastening-{row.id}.glance"] = Need(CATALOGUE, (*path, "id"), must=False)
        wanted.setdefault(f"family-{row.id.partition('-')[0]}", Need(CATALOGUE, (*path, "id"), must=False))
        for item, name in enumerate(row.advice):
            wanted.setdefault(f"advice-{name}", Need(CATALOGUE, (*path, "advice", item)))
            wanted.setdefault(f"advice-{name}.short", Need(CATALOGUE, (*path, "advice", item), must=False))
    for place, row in enumerate(catalogue.fastenings):
        if row.refitting is not None:
            where = ("fastenings", place, "refitting", "text")
            wanted.setdefault(row.refitting.text, _refitting_need(topic, row.refitting.text, where))
            wanted.setdefault(f"{row.refitting.text}.short", Need(CATALOGUE, where, must=False))
    for kind, top in (("remover", "removers"), ("accessory", "accessories"), ("caution", "cautions")):
        for place, entry in enumerate(getattr(catalogue, top)):
            wanted[f"{kind}-{entry.id}"] = Need(CATALOGUE, (top, place, "id"))
            if kind == "remover":
                wanted[f"remover-{entry.id}.short"] = Need(CATALOGUE, (top, place, "id"), must=False)
            if kind == "caution":
                for part in ("short", "glance", "tool"):
                    wanted[f"caution-{entry.id}.{part}"] = Need(CATALOGUE, (top, place, "id"), must=False)
    for place, step in enumerate(catalogue.steps):
        wanted[f"step-{step}"] = Need(CATALOGUE, ("steps", place))
    for place, pair in enumerate(catalogue.look_alikes):
        need = Need(CATALOGUE, ("look-alikes", place, "check"))
        wanted.setdefault(f"look-alike-{pair.check}", need)
        wanted.setdefault(f"look-alike-{pair.check}.short", Need(need.file, need.path, must=False))
        wanted.setdefault(f"look-alike-{pair.check}.tried", Need(need.file, need.path, must=False))
    for signal in SIGNALS:
        wanted[f"signal-{signal}"] = Need(CATALOGUE, ("cautions",))
    for direction in DIRECTIONS:
        wanted[f"direction-{direction}"] = Need(CATALOGUE, ("fastenings",))
        wanted[f"direction-{direction}.short"] = Need(CATALOGUE, ("fastenings",), must=False)
    return wanted


def _refitting_need(topic: Topic, text: str, path: tuple[Any, ...]) -> Need:
    rows = [row.refitting for row in topic.catalogue.fastenings if row.refitting and row.refitting.text == text]
    if all(row.torque is not None for row in rows):
        return Need(CATALOGUE, path, TORQUE, frozenset({"torque"}))
    return Need(CATALOGUE, path)


# --- what the files hold ----------------------------------------------------------------------------------------------


def wording_faults(topic: Topic, files: Files, program_folder: Path) -> list[Problem]:
    """Texts that are missing, left over, twice there or use other variables, in every language of the topic; and the
    same between the languages of the program's own texts."""
    spoken = languages(topic.folder)
    if not spoken:
        return [Problem(str(topic.folder / "text"), 0, 0, "there are no texts: add en.ftl")]
    problems: list[Problem] = []
    own = _read_all(program_folder, languages(program_folder), problems)
    theirs = _read_all(topic.folder, spoken, problems)
    for language in spoken:
        if language not in own:
            message = f"the program has no words of its own in {language!r}"
            problems.append(Problem(str(program_folder / "text"), 0, 0, message))
    wanted = wanted_texts(topic)
    extra = set().union(*own.values())
    for language, texts in theirs.items():
        file = text_file(topic.folder, language)
        asked = enquiry_texts(topic.folder, language)
        may_have = optional_enquiry_texts(topic.folder, language, topic.questions)
        welcome = wanted.keys() | extra | asked | may_have
        referred_to = {other for text in texts.values() for other in text.references}
        missing = [f"there is no text {name!r}" for name in sorted(asked - texts.keys())]
        problems += [Problem(str(file.with_name(f"{language}.enquiries.yaml")), 0, 0, each) for each in missing]
        problems += _compared_with_need(file, texts, wanted, files)
        problems += [
            Problem(str(file), *text.place, f"{name}: nothing asks for this text")
            for name, text in texts.items()
            if name not in welcome and name not in referred_to
        ]
        problems += _unresolved(file, {**own.get(language, {}), **texts}, texts)
    problems += _compared_with_each_other(topic.folder, theirs)
    problems += _compared_with_each_other(program_folder, own)
    for language, texts in own.items():
        problems += _unresolved(text_file(program_folder, language), texts, texts)
    return problems


def _read_all(folder: Path, spoken: tuple[str, ...], problems: list[Problem]) -> dict[str, dict[str, Text]]:
    found: dict[str, dict[str, Text]] = {}
    for language in spoken:
        try:
            found[language] = read_texts(text_file(folder, language), problems)
        except DataError as error:
            problems.extend(error.problems)
    return found


def read_texts(file: Path, problems: list[Problem]) -> dict[str, Text]:
    """The texts of one file by id (or id.attribute; terms with their dash). What is no Fluent goes to `problems`."""
    source, resource, faults = parse(file)
    problems.extend(faults)
    found: dict[str, Text] = {}
    for entry in resource.body:
        if not isinstance(entry, ast.Message | ast.Term):
            continue
        name = f"-{entry.id.name}" if isinstance(entry, ast.Term) else entry.id.name
        parts: list[tuple[str, Any, Any]] = [(name, entry.value, entry)] if entry.value is not None else []
        parts += [(f"{name}.{part.id.name}", part.value, part) for part in entry.attributes]
        for full, pattern, node in parts:
            place = place_of(source, node.span)
            if full in found:
                problems.append(Problem(str(file), *place, f"{full}: stands twice in this file"))
            else:
                walk = _Walk()
                walk.visit(pattern)
                found[full] = Text(place, frozenset(walk.variables), frozenset(walk.references))
    return found


class _Walk(Visitor):
    """Collects the variables and references of a pattern."""

    def __init__(self) -> None:
        self.variables: set[str] = set()
        self.references: set[str] = set()

    def visit_VariableReference(self, node: Any) -> None:  # noqa: N802 - the visitor's own naming
        self.variables.add(node.id.name)

    def visit_MessageReference(self, node: Any) -> None:  # noqa: N802
        self._refer(node.id.name, node.attribute)

    def visit_TermReference(self, node: Any) -> None:  # noqa: N802
        self._refer(f"-{node.id.name}", node.attribute)
        if node.arguments is not None:
            self.generic_visit(node.arguments)

    def _refer(self, name: str, attribute: Any) -> None:
        self.references.add(f"{name}.{attribute.name}" if attribute else name)


def _all_variables(name: str, texts: Mapping[str, Text], seen: frozenset[str] = frozenset()) -> frozenset[str]:
    """The variables of a text and of the messages that it refers to; terms keep theirs to themselves."""
    text = texts.get(name)
    if text is None or name in seen:
        return frozenset()
    inner = [_all_variables(other, texts, seen | {name}) for other in text.references if not other.startswith("-")]
    return text.variables.union(*inner)


def _compared_with_need(
    file: Path, texts: Mapping[str, Text], wanted: Mapping[str, Need], files: Files
) -> Iterator[Problem]:
    for name, need in wanted.items():
        text = texts.get(name)
        if text is None and not need.must:
            continue
        if text is None:
            line, column = files.marks[need.file].value(need.path)
            message = f"there is no text {name!r}, which {need.file}:{line}:{column} asks for"
            yield Problem(str(file), 0, 0, message)
            continue
        variables = _all_variables(name, texts)
        for variable in sorted(variables - need.given):
            yield Problem(str(file), *text.place, f"{name}: the program gives it no variable ${variable}")
        for variable in sorted(need.used - variables):
            yield Problem(str(file), *text.place, f"{name}: must show the variable ${variable}")


def _compared_with_each_other(folder: Path, spoken: Mapping[str, Mapping[str, Text]]) -> Iterator[Problem]:
    if len(spoken) < 2:
        return
    first = "en" if "en" in spoken else min(spoken)
    for language, texts in spoken.items():
        if language == first:
            continue
        file = str(text_file(folder, language))
        for name in spoken[first]:
            if name.startswith("-"):
                continue
            text = texts.get(name)
            if text is None:
                yield Problem(file, 0, 0, f"there is no text {name!r}, which {first}.ftl has")
            elif (here := _all_variables(name, texts)) != (there := _all_variables(name, spoken[first])):
                shown = [" ".join(f"${variable}" for variable in sorted(group)) or "none" for group in (here, there)]
                yield Problem(file, *text.place, f"{name}: uses the variables {shown[0]}; {first}.ftl uses {shown[1]}")
        for name in texts.keys() - spoken[first].keys():
            if not name.startswith("-"):
                yield Problem(file, *texts[name].place, f"{name}: {first}.ftl has no such text")


def _unresolved(file: Path, known: Mapping[str, Text], texts: Mapping[str, Text]) -> Iterator[Problem]:
    for name, text in texts.items():
        for other in sorted(other for other in text.references if other not in known):
            yield Problem(str(file), *text.place, f"{name}: refers to {other!r}, which is not there")
        if text.references and name in _reached(name, known):
            yield Problem(str(file), *text.place, f"{name}: refers to itself in a circle")


def _reached(name: str, known: Mapping[str, Text]) -> set[str]:
    seen: set[str] = set()
    waiting = [name]
    while waiting:
        text = known.get(waiting.pop())
        for other in text.references if text else ():
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    return seen
