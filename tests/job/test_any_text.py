"""Whatever is given, the answer is a job or a JobError whose problems have places."""

from __future__ import annotations

import io
import re

from hypothesis import example, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from callpath.job import read_job
from tests.job.sound import SOUND, problems_of

# Words, blanks and signs, in the order of the file; joined they are the file.
TOKENS = re.findall(r"[\w./-]+|\s+|.", SOUND)
INSERTED = st.sampled_from(
    [
        *sorted(set(TOKENS)),
        "'",
        '"',
        "&x",
        "*x",
        "!t",
        "|",
        ">",
        "%",
        "@",
        "`",
        "? ",
        "\t",
        "\x00",
        "null",
        "~",
        "9" * 30,
    ]
)


def job_or_problems(text: str | bytes) -> None:
    problems = problems_of(text)
    for problem in problems:
        assert problem.line >= 1
        assert problem.column >= 1
        assert problem.message
        assert problem.message.isprintable()
    assert len(set(problems)) == len(problems)


@given(st.binary(max_size=400))
@example(b"\xff")
@example(b"\xed\xa0\x80")
@example(b'"\\uD800": 1')
@example(b'title: "\\U00110000"')
@example(b"%YAML 9999999999999999999999.1\n---\n")
@example(b"%TAG ! tag:x,2000:\n---\n!x 1")
def test_any_bytes(raw: bytes) -> None:
    job_or_problems(raw)


@given(st.text(max_size=400))
def test_any_text(text: str) -> None:
    job_or_problems(text)


@given(st.text(alphabet="ab:-[]{},'\"\n &*!|>%@`?#~0.\t\\", max_size=200))
@settings(max_examples=300)
def test_any_signs(text: str) -> None:
    job_or_problems(text)
    job_or_problems(SOUND.replace("note: Invented.", "note: " + text))


@given(st.data())
@settings(max_examples=300)
def test_any_change_to_a_sound_job(data: st.DataObject) -> None:
    tokens = list(TOKENS)
    for _ in range(data.draw(st.integers(1, 3))):
        position = data.draw(st.integers(0, len(tokens) - 1))
        match data.draw(st.sampled_from(["delete", "double", "replace", "insert", "cut"])):
            case "delete":
                del tokens[position]
            case "double":
                tokens.insert(position, tokens[position])
            case "replace":
                tokens[position] = data.draw(INSERTED)
            case "insert":
                tokens.insert(position, data.draw(INSERTED))
            case _:
                del tokens[max(position, 1) :]
    job_or_problems("".join(tokens))


def shuffled(tree: object, dice: st.DataObject) -> object:
    """Return the tree with the keys of all its mappings in another order."""
    if isinstance(tree, dict):
        keys = dice.draw(st.permutations(list(tree)))
        return {key: shuffled(tree[key], dice) for key in keys}
    return tree


@given(st.data())
@settings(max_examples=40)
def test_the_order_of_keys_changes_nothing(data: st.DataObject) -> None:
    yaml = YAML(typ="safe", pure=True)
    written = io.StringIO()
    yaml.sort_base_mapping_type_on_output = False
    yaml.dump(shuffled(yaml.load(SOUND), data), written)
    assert read_job(written.getvalue()) == read_job(SOUND)


@given(st.data())
@settings(max_examples=40)
def test_the_order_of_sections_changes_no_problem(data: st.DataObject) -> None:
    wrong = SOUND.replace("board.G]", "board.J]").replace("at: yard", "at: yrd").replace("[cool,", "[kool,")
    sections = re.split(r"(?m)^(?=\w)", wrong)[1:]
    mixed = "".join(data.draw(st.permutations(sections)))

    def messages(text: str) -> list[str]:
        return sorted(re.sub(r"line \d+", "line", problem.message) for problem in problems_of(text))

    assert messages(mixed) == messages(wrong)
    assert len(messages(wrong)) == 3
