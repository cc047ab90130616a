"""Reading and checking the words files.

The program's own words are `words/<language>.yaml` beside this package, with the language's common words in
`words/<language>.common.txt`; a topic's are `text/<language>.words.yaml` in its folder. A language is those three.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from pydantic import ValidationError

from triagebot.compiled import compiled
from triagebot.conversation.understanding.compiler import compile_words
from triagebot.conversation.understanding.lexicon import ProgramWords, TopicWords
from triagebot.conversation.understanding.model import load_guess
from triagebot.conversation.understanding.phrases import PatternError
from triagebot.conversation.understanding.words import Words
from triagebot.errors import DataError, Problem
from triagebot.topics.schema import Question

#: Where the program's own words lie.
PROGRAM = Path(__file__).resolve().parent.parent / "words"
#: What makes `Words` of them.
CODE = (Path(__file__).resolve().parent.parent,)


def load_words(language: str, topic_folder: Path, program_folder: Path = PROGRAM) -> Words:
    """Read and compile the program's and the topic's words of a language. Raises DataError with every problem."""
    program_file = program_folder / f"{language}.yaml"
    topic_file = topic_folder / "text" / f"{language}.words.yaml"
    files = {f"{language}.yaml": program_file, str(topic_file): topic_file}
    texts, problems = _read(files)
    if problems:
        raise DataError(topic_folder, (*problems, *_tables(texts)[1]))
    common = _common(language, program_folder)

    def compile_them() -> Words:
        return _compile(language, topic_folder, texts, common)

    words = compiled(f"words-{language}", (language, *texts.values(), common), CODE, compile_them)
    # The common words are kept once on disk, in their own file; where the topic lies is no part of its words.
    guess = load_guess(topic_file.with_name(f"{language}.guess"))
    return replace(words, topic_file=str(topic_file), common_words=common, guess=guess)


def _read(files: Mapping[str, Path]) -> tuple[dict[str, str], list[Problem]]:
    """The texts of the files that can be read, by the files' names, and what keeps the others from it."""
    texts: dict[str, str] = {}
    problems: list[Problem] = []
    for name, file in files.items():
        try:
            texts[name] = file.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as fault:
            problems.append(Problem(name, 0, 0, f"cannot be read: {fault}"))
    return texts, problems


def _tables(texts: Mapping[str, str]) -> tuple[list[Any], list[Problem]]:
    """The program's and the topic's words, the topic's last, and what is wrong with them."""
    tables: list[Any] = []
    problems: list[Problem] = []
    for name, text in texts.items():
        shape = TopicWords if name.endswith(".words.yaml") else ProgramWords
        try:
            tables.append(shape.model_validate(_read_yaml(text, name)))
        except DataError as fault:
            problems += fault.problems
        except ValidationError as fault:
            problems += [_located(text, name, e["loc"], f"{_path(e['loc'])}: {e['msg']}") for e in fault.errors()]
    return tables, problems


def _compile(language: str, folder: Path, texts: Mapping[str, str], common: str) -> Words:
    tables, problems = _tables(texts)
    if problems:
        raise DataError(folder, tuple(problems))
    topic_file = list(texts)[-1]
    try:
        words = compile_words(language, tables[0], tables[1], topic_file, common)
    except PatternError as fault:
        raise DataError(folder, (Problem(topic_file, 0, 0, str(fault)),)) from None
    return replace(words, common_words="")


def _common(language: str, folder: Path) -> str:
    """The common words of a language, one a line between line ends; none where there is no such list."""
    file = folder / f"{language}.common.txt"
    if not file.exists():
        return "\n"
    text = file.read_text(encoding="utf-8")
    while text.startswith("#"):  # remarks stand at the top
        text = text.partition("\n")[2]
    return f"\n{text}\n"


def check_words(words: Words, questions: Mapping[str, Question], gauges: Collection[str]) -> tuple[Problem, ...]:
    """Whether every question, choice and gauge that the topic's words name exists, and every choice has words."""
    topic = words.topic
    wrong: list[tuple[tuple[str, ...], str]] = []
    tables: dict[str, Mapping[str, object]] = {
        "choices": topic.choices, "yes": topic.yes, "no": topic.no, "nouns": topic.nouns, "pairs": topic.pairs,
        "names": topic.names, "mentions": topic.mentions, "withdrawn": topic.withdrawn, "cannot": topic.cannot,
        "own-counts": topic.own_counts, "no-counts": topic.no_counts, "wholes": topic.wholes,
        "divisors": topic.divisors, "zeros": topic.zeros, "lists": dict.fromkeys(topic.lists),
        "beside": topic.beside,
        "counted": topic.counted, "covers": topic.covers, "wavering": topic.wavering,
        "covers-most": topic.covers_most, "finer": topic.finer, "denied": topic.denied,
        "single": topic.single, "own-sizes": dict.fromkeys(topic.own_sizes),
        "cannot-when-open": topic.cannot_when_open, "motion": topic.motion,
        "either-or": dict.fromkeys(topic.either_or),
    }  # fmt: skip
    wrong += [
        ((table, named), f"no question {named!r} in this topic")
        for table, rows in tables.items()
        for named in rows
        if named not in questions
    ]
    chosen = [(("yes", q), q, c) for q, c in topic.yes.items()] + [(("no", q), q, c) for q, c in topic.no.items()]
    listed = [(("choices", q, c), q, c) for q, choices in topic.choices.items() for c in choices]
    listed += [
        (("motion", q, w), q, c) for q, r in topic.motion.items() for w, c in (("moves", r.moves), ("rests", r.rests))
    ]
    listed += [(("own-counts", q, c), q, c) for q, row in topic.own_counts.items() for c in row]
    listed += [(("zeros", q, c), other, c) for q, (other, c) in topic.zeros.items()]
    listed += [(("no-counts", q, c), q, c) for q, row in topic.no_counts.items() for c in row]
    wrong += [
        (place, f"question {q!r} has no choice {c!r}")
        for place, q, c in (*chosen, *listed)
        if not _has(questions, q, c)
    ]
    for question in questions.values():
        if question.kind == "choice" and question.id != topic.makers:
            missing = sorted(set(question.choices) - set(topic.choices.get(question.id, {})))
            wrong += [(("choices", question.id), f"no words for choice {c!r} of {question.id!r}") for c in missing]
    wrong += [
        (("nouns", named), f"question {named!r} is no number")
        for named in topic.nouns
        if named in questions and questions[named].kind == "choice"
    ]
    if topic.makers is not None and topic.makers not in questions:
        wrong.append((("makers",), f"no question {topic.makers!r} in this topic"))
    wrong += [(("gauges", gauge), f"no gauge {gauge!r} in this topic") for gauge in topic.gauges if gauge not in gauges]
    if not wrong:
        return ()
    text = Path(words.topic_file).read_text(encoding="utf-8")
    return tuple(sorted(_located(text, words.topic_file, place, message) for place, message in wrong))


def _has(questions: Mapping[str, Question], question: str, choice: str) -> bool:
    """Whether the question has that choice; a phrase may stand for a whole number where a question counts."""
    row = questions.get(question)
    return row is None or choice in row.choices or (row.kind == "count" and choice.isdigit())


def _read_yaml(text: str, name: str) -> Any:
    loader = yaml.CBaseLoader(text)
    try:
        node = loader.get_single_node()
        twice = tuple(_twice(node, name)) if node else (Problem(name, 0, 0, "is empty"),)
        if twice:
            raise DataError(name, twice)
        return loader.construct_document(node)
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        raise DataError(name, (Problem(name, line, column, fault.problem or "not YAML"),)) from None
    except yaml.YAMLError as fault:
        raise DataError(name, (Problem(name, 0, 0, f"not YAML: {fault}"),)) from None
    finally:
        loader.dispose()


def _twice(node: yaml.Node, name: str) -> Iterator[Problem]:
    """Keys that one table holds twice."""
    if isinstance(node, yaml.MappingNode):
        seen: set[str] = set()
        for key, value in node.value:
            if key.value in seen:
                mark = key.start_mark
                yield Problem(name, mark.line + 1, mark.column + 1, f"{key.value!r} stands here twice")
            seen.add(key.value)
            yield from _twice(value, name)
    elif isinstance(node, yaml.SequenceNode):
        for value in node.value:
            yield from _twice(value, name)


def _path(place: Iterable[int | str]) -> str:
    return ".".join(str(step) for step in place)


def _located(text: str, name: str, place: Iterable[int | str], message: str) -> Problem:
    """The problem at the deepest node of `place` that the file has."""
    node = yaml.compose(text, Loader=yaml.CBaseLoader)
    mark = node.start_mark if node else None
    for step in place:
        if isinstance(node, yaml.MappingNode):
            pair = next(((key, value) for key, value in node.value if key.value == str(step)), None)
            if pair is None:
                break
            mark, node = pair[0].start_mark, pair[1]
        elif isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            node = node.value[step]
            mark = node.start_mark
        else:
            break
    return Problem(name, mark.line + 1 if mark else 0, mark.column + 1 if mark else 0, message)


@lru_cache(maxsize=8)
def languages() -> tuple[str, ...]:
    """Languages that the program has words for."""
    return tuple(sorted(file.stem for file in PROGRAM.glob("*.yaml")))
