"""Everything that can be proved about a topic folder before anybody talks to it, as rows of file:line:column.

Files that do not fit the schema stop all proofs; ids that point nowhere stop those that follow ids. Texts are checked
whenever the ids say which are needed.
"""

from pathlib import Path

from triagebot.errors import DataError, Problem
from triagebot.topics.apart import identification_faults
from triagebot.topics.load import read_topic
from triagebot.topics.loose_ends import loose_ends
from triagebot.topics.procedures import procedure_faults
from triagebot.topics.reach import machine_faults
from triagebot.topics.ready_priors import ready_priors_faults
from triagebot.topics.references import broken_references
from triagebot.topics.speech import speech_faults
from triagebot.topics.texts import PROGRAM
from triagebot.topics.wording import wording_faults


def check_topic(folder: Path, program_folder: Path = PROGRAM) -> tuple[Problem, ...]:
    """Every problem of a topic folder, sorted by file and line; none when it can be used. Raises on no content."""
    try:
        topic, files = read_topic(folder)
    except DataError as error:
        return error.problems
    problems = broken_references(topic, files)
    if not problems:
        problems += loose_ends(topic, files)
        problems += procedure_faults(topic, files)
        problems += machine_faults(topic, files)
        problems += identification_faults(topic, files)
        problems += speech_faults(topic)
        problems += ready_priors_faults(topic)
    problems += wording_faults(topic, files, program_folder)
    return tuple(sorted(set(problems)))
