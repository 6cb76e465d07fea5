"""What a YAML syntax error means, in words for someone who does not know YAML."""

from __future__ import annotations

import re
from collections.abc import Callable

from ruamel.yaml.error import MarkedYAMLError

from callpath.job.problems import Place, shown

__all__ = ["explain"]

# What the scanner or parser reports, as a pattern, and what it comes from; {opened} is the line where the broken thing began.
_CAUSES: tuple[tuple[str, str], ...] = (
    (r"found character '\\t'", "a tab; indent with spaces"),
    (r"found character", "{word} cannot start a value; put the text in quotes"),
    (r"mapping values are not allowed", "a ':' where none can be; text that holds ': ' needs quotes, and keys of one"
        " group start in the same column"),
    (r"sequence entries are not allowed", "a '- ' where no list can start; put it on a line of its own"),
    (r"mapping keys are not allowed", "a '?' where no key can start; put the text in quotes"),
    (r"could not find expected ':'", "{word} stands where a key should, but no ':' follows"),
    (r"quoted scalar.*(end of stream|document separator)", "the text that starts with {word} has no closing quote"),
    (r"unknown escape character", "{word} is no escape in double quotes; use single quotes, or write the backslash twice"),
    (r"escape sequence of", "a '\\x', '\\u' or '\\U' in double quotes needs its 2, 4 or 8 hexadecimal digits"),
    (r"flow sequence.*<stream end>", "this '[' is never closed; put a ']'"),
    (r"flow mapping.*<stream end>", "this '{{' is never closed; put a '}}'"),
    (r"flow sequence", "{word} where a ',' or the ']' for line {opened} should be"),
    (r"flow mapping", "{word} where a ',' or the '}}' for line {opened} should be"),
    (r"block (mapping|collection)", "{word} does not fit here; what belongs together starts in the same column"
        " (this group starts on line {opened})"),
    (r"expected the node content", "{word} where a value should be"),
    (r"block scalar", "text after '|' or '>' starts on the next line, indented alike"),
    (r"directive", "a line that starts with '%' is not used in job files"),
    (r"document start|document end", "{word} follows what is already a whole document; what belongs together starts in"
        " the same column"),
    (r"scanning an? (anchor|alias)", "{word} starts an anchor or alias, which job files do not use; put the text in quotes"),
    (r"tag", "{word} starts a tag, which job files do not use; put the text in quotes"),
)  # fmt: skip

# What is best shown where it began, not where the parser gave up.
_AT_ITS_START = re.compile(r"expected ':'|<stream end>|quoted scalar found unexpected")
_WORD = re.compile(r"\\.|[^\s,\[\]{}]+|\S")


def explain(error: Exception, text: str, ran_on: int | None, place: Callable[[int], Place]) -> tuple[Place, str]:
    """Return where the error is and what it means.

    Parameters
    ----------
    error : Exception
        What the YAML library raised.
    text : str
        What it read.
    ran_on : int or None
        Index of a text that ran on over several lines up to the error.
    place : callable
        From an index into that text to its place in the file.
    """
    mark = (error.problem_mark or error.context_mark) if isinstance(error, MarkedYAMLError) else None
    if not isinstance(error, MarkedYAMLError) or mark is None:
        return place(0), "this is not YAML: it holds what no text can hold"
    if ran_on is not None and "mapping values" in (error.problem or ""):
        line = text[ran_on:].partition("\n")[0].strip()
        return place(ran_on), f"{shown(line)} lacks the ':' after its key"
    if _AT_ITS_START.search(reported := f"{error.context or ''} {error.problem or ''}"):
        mark = error.context_mark or mark
    index = min(mark.index, len(text))
    index -= text[index - 1 : index] == "\\"
    word = _WORD.match(text, index)
    told = {
        "word": shown(word.group()) if word else "the end of the file",
        "opened": place((error.context_mark or mark).index).line,
    }
    for pattern, cause in _CAUSES:
        if re.search(pattern, reported):
            return place(index), cause.format(**told)
    return place(index), f"this is not YAML: {error.problem}"
