"""Every public function and dataclass of the pure rooms says what it takes and gives, in which units and by whom."""

import ast
import re
from pathlib import Path

import pytest

from couplings import engineering
from inspections import forecasting

FOLDER = Path(engineering.__file__).parent
FORECASTING = Path(forecasting.__file__).parent
BEFORE = {"duedates.py", "running.py"}  # dates, not quantities: their own short form
SOURCES = ("References\n----------", "ommon practice", "rom memory")


def public(tree):
    return [
        node for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
    ]  # fmt: skip


def is_dataclass(node):
    return any("dataclass" in ast.unparse(mark) for mark in node.decorator_list)


def has_section(text, name):
    return re.search(rf"^{name}\n-{{{len(name)}}}$", text, re.MULTILINE) is not None


def takes_floats(annotations):
    return any(re.search(r"\b(float|Floats|ArrayLike|NDArray)\b", ast.unparse(one)) for one in annotations)


def raises_itself(node):
    return any(isinstance(inner, ast.Raise) for inner in ast.walk(node))


def missing_of(node):
    text = ast.get_docstring(node) or ""
    if isinstance(node, ast.ClassDef):
        if not is_dataclass(node):
            return [] if text else ["docstring"]
        fields = [part.annotation for part in node.body if isinstance(part, ast.AnnAssign)]
        return [*([] if text else ["docstring"]), *(["units"] if takes_floats(fields) and "[" not in text else [])]
    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    returns_nothing = isinstance(node.returns, ast.Constant) and node.returns.value is None
    due = {
        "Parameters": bool(arguments),
        "Returns": not returns_nothing,
        "Raises": raises_itself(node),
    }
    missing = [name for name, wanted in due.items() if wanted and not has_section(text, name)]
    if not any(source in text for source in SOURCES):
        missing.append("source")
    if takes_floats([one.annotation for one in arguments if one.annotation]) and "[" not in text:
        missing.append("units")
    return missing


ROOMS = sorted(FOLDER.rglob("*.py")) + [path for path in sorted(FORECASTING.glob("*.py")) if path.name not in BEFORE]
PUBLIC = [
    (f"{path.relative_to(FOLDER.parent.parent)}:{node.name}", node)
    for path in ROOMS
    for node in public(ast.parse(path.read_text(encoding="utf-8")))
]


def test_rooms_were_found():
    assert len(PUBLIC) > 100


@pytest.mark.parametrize("node", [node for _name, node in PUBLIC], ids=[name for name, _node in PUBLIC])
def test_a_public_name_says_all_that_the_house_asks_for(node):
    assert missing_of(node) == []


@pytest.mark.parametrize(
    ("source", "missing"),
    [
        ("def f(x: float) -> float:\n    return x", ["Parameters", "Returns", "source", "units"]),
        ("def f() -> None:\n    raise ValueError", ["Raises", "source"]),
        ('def f() -> None:\n    """Common practice."""', []),
        ("@dataclass\nclass C:\n    x: float", ["docstring", "units"]),
        ('@dataclass(frozen=True)\nclass C:\n    """A length. [mm]"""\n    x: float', []),
        ('@dataclass\nclass C:\n    """A word."""\n    x: str', []),
        ("class E(ValueError):\n    pass", ["docstring"]),
    ],
)
def test_what_is_missing_is_found(source, missing):
    assert missing_of(ast.parse(source).body[0]) == missing
