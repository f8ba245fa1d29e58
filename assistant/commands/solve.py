"""The ``solve`` command: readings in, answer out, no dialogue."""

import argparse
import json
import sys

from assistant.arguments import CAUTIONS
from assistant.metrology.problem import ProblemError
from assistant.metrology.solve import solve
from assistant.records.readings.answer_text import answer_text
from assistant.records.readings.file_values import ReadingsFileError
from assistant.records.readings.readings_file import read_problem


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay solve``."""

    try:
        answer = solve(read_problem(arguments.file, sys.stdin))
    except ProblemError as error:
        raise ReadingsFileError(str(error)) from error
    if arguments.json:
        sys.stdout.write(json.dumps(answer.as_json(), allow_nan=False) + "\n")
    else:
        sys.stdout.write(f"{answer_text(answer)}\ncaution        {CAUTIONS}\n")
    return 0
