"""The rules of the rooms, read from the source by `ast`: who imports whom, who opens files, what the models are."""

import ast
import dataclasses
import functools
import importlib
import inspect
import types
import typing
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

import arranger
from arranger import late
from arranger.harmony.arrange import WorkedOut
from arranger.text.source import Span

PACKAGE = Path(arranger.__file__).parent

# The rooms in the order of the data: each may import those before it and nothing after it.
ROOMS = (
    "late",
    "settings",
    "text",
    "units",
    "resources",
    "digests",
    "files",
    "theory",
    "habits",
    "song",
    "harmony",
    "sounding",
    "studies",
    "evening",
    "layout",
    "player",
    "pdf",
    "svg",
    "exchange",
    "convert",
    "intake",
    "pipeline",
    "gathering",
    "staging",
    "practising",
    "binding",
    "library",
    "desk",
    "cli",
    "commands",
    "__main__",
)

HOME = {
    "lark": "song",
    "reportlab": "pdf",
    "mido": "exchange",
    "starlette": "desk",
    "uvicorn": "desk",
    "dask": "library",
    "distributed": "library",
}  # libraries that have one home each

FILE_ROOMS = {"resources", "files", "exchange", "library", "desk", "commands", "cli"}  # where files are opened
FILE_MODULES = {"os", "pathlib", "shutil", "tempfile", "subprocess", "socket", "glob", "sys"}
FILE_METHODS = {"open", "read_text", "read_bytes", "write_text", "write_bytes"}  # of paths
LOUD_FUNCTIONS = {"open", "print", "input"}

# What would make the same input give other bytes, or hide a dependence on the machine.
UNREPEATABLE = {"time", "datetime", "random", "secrets", "uuid", "locale", "platform", "getpass"}

# A server ends when nobody has asked for a while, and has a token that nobody can guess; a run ends when no machine has
# been there to work for it for a while. No song depends on either.
WITH_CLOCK_OR_CHANCE = {
    "desk/server.py": ("time",),
    "desk/opening.py": ("secrets",),
    "library/cluster.py": ("time",),
}

FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    """Name the room of a file: `theory` for arranger/theory/key.py, `cli` for arranger/cli.py."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def name(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@functools.cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


@functools.cache
def nodes_of(tree: ast.AST) -> tuple[ast.AST, ...]:
    """List all nodes of a tree, once for all rules: walking is most of what these tests cost."""
    return tuple(ast.walk(tree))


def imports_of(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Give the line and the module of every import, `from arranger import x` as `arranger.x`."""
    for node in nodes_of(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0 and node.module, f"line {node.lineno}: imports are absolute"
            if node.module == "arranger":
                yield from ((node.lineno, f"arranger.{alias.name}") for alias in node.names)
            else:
                yield node.lineno, node.module


def room_imported(module: str) -> str | None:
    first, _, rest = module.partition(".")
    return rest.split(".")[0] if first == "arranger" and rest not in ("", "__version__") else None


ROOM_FILES = [path for path in FILES if name(path) != "__init__.py"]
QUIET_FILES = [path for path in ROOM_FILES if room_of(path) not in FILE_ROOMS | {"__main__"}]


@pytest.mark.parametrize("path", ROOM_FILES, ids=name)
def test_imports_run_one_way(path):
    here = room_of(path)
    assert here in ROOMS, "a new room has its place in the order"
    for line, module in imports_of(tree_of(path)):
        there = room_imported(module)
        if there is not None:
            assert ROOMS.index(there) <= ROOMS.index(here), f"line {line}: {here} imports {module}"


def test_the_package_itself_imports_nothing():
    """Every command pays for what `import arranger` loads."""
    assert list(imports_of(tree_of(PACKAGE / "__init__.py"))) == []


@pytest.mark.parametrize("path", FILES, ids=name)
def test_libraries_stay_at_home(path):
    for line, module in imports_of(tree_of(path)):
        library = module.split(".")[0]
        if library in HOME:
            assert room_of(path) == HOME[library], f"line {line}: {module}"


@pytest.mark.parametrize("path", [p for p in FILES if room_of(p) != "cli"], ids=name)
def test_no_import_inside_a_function(path):
    """The command line alone loads what it needs when it is called, for a quick start."""
    for node in nodes_of(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert list(imports_of(node)) == [], f"line {node.lineno}: {node.name}"


@pytest.mark.parametrize("path", [p for p in FILES if room_of(p) not in ("late", "cli")], ids=name)
def test_what_is_loaded_late_is_in_the_table(path):
    """`late.load` is called with names that `late.LATE` gives reasons for, and nothing else loads by name."""
    tree = tree_of(path)
    assert not {module.split(".")[0] for _, module in imports_of(tree)} & {"importlib", "imp", "runpy", "pkgutil"}
    for node in nodes_of(tree):
        match node:
            case ast.Call(
                func=ast.Name(id="load") | ast.Attribute(value=ast.Name(id="late"), attr="load"),
                args=[ast.Constant(value=str(module))],
            ):
                assert module in late.LATE, f"line {node.lineno}: {module}"


@pytest.mark.parametrize("path", QUIET_FILES, ids=name)
def test_stages_open_no_files_and_say_nothing(path):
    tree = tree_of(path)
    for line, module in imports_of(tree):
        assert module.split(".")[0] not in FILE_MODULES, f"line {line}: {module}"
    for node in nodes_of(tree):
        if isinstance(node, ast.Call):
            match node.func:
                case ast.Attribute(attr=called):
                    assert called not in FILE_METHODS, f"line {node.lineno}: {called}"
                case ast.Name(id=called):
                    assert called not in LOUD_FUNCTIONS, f"line {node.lineno}: {called}"


@pytest.mark.parametrize("path", FILES, ids=name)
def test_nothing_depends_on_the_clock_or_on_chance(path):
    for line, module in imports_of(tree_of(path)):
        allowed = module.split(".")[0] in WITH_CLOCK_OR_CHANCE.get(name(path), ())
        assert allowed or module.split(".")[0] not in UNREPEATABLE, f"line {line}: {module}"


@pytest.mark.parametrize("path", FILES, ids=name)
def test_every_file_says_what_it_is(path):
    assert ast.get_docstring(tree_of(path))


# Language: names that need no room to be understood, docstrings that say what is returned or done.

SAME_FILES = {  # names of files that occur in several rooms, with the reason
    "__init__": "a package's own",
    "model": "the values of a stage: read first in each",
    "dump": "a stage's values as text, for its goldens",
    "find": "a command's file has the command's name; the search itself is the library's",
}
UNCLEAR = (
    "give",
    "gives",
    "tell",
    "tells",
    "say",
    "says",
    "know",
    "knows",
)  # first words that leave open what is meant


def test_no_file_name_occurs_twice():
    stems = Counter(path.stem for path in FILES)
    assert {stem for stem, count in stems.items() if count > 1} == set(SAME_FILES)


def test_no_public_class_name_occurs_twice():
    names = Counter(
        node.name
        for path in FILES
        for node in tree_of(path).body
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )
    assert [name for name, count in names.items() if count > 1] == []


@pytest.mark.parametrize("path", FILES, ids=name)
def test_docstrings_begin_with_a_plain_verb(path):
    for node in nodes_of(tree_of(path)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and (text := ast.get_docstring(node)):
            first = text.split(maxsplit=1)[0].strip(",.:").lower()
            assert first not in UNCLEAR, f"line {getattr(node, 'lineno', 1)}: {text.splitlines()[0]}"


# The models: values between stages, frozen to the last leaf.

MODELS = [path for path in FILES if path.name == "model.py"]
LEAVES = (str, int, float, bool, bytes, Fraction, type(None))


def module_of(path: Path) -> types.ModuleType:
    return importlib.import_module("arranger." + name(path).removesuffix(".py").replace("/", "."))


def classes_of(path: Path) -> list[type]:
    module = module_of(path)
    return [c for c in vars(module).values() if inspect.isclass(c) and c.__module__ == module.__name__]


def assert_frozen(hint: object, where: str, seen: set[object] | None = None) -> None:
    """Hold that a type is a leaf, a frozen slotted dataclass, a tuple, frozenset or union of such, or a literal."""
    seen = set() if seen is None else seen
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Literal or hint is Ellipsis:
        return
    if origin in (tuple, frozenset, types.UnionType, typing.Union):
        for argument in arguments:
            assert_frozen(argument, where, seen)
        return
    assert inspect.isclass(hint), f"{where}: {hint}"
    if issubclass(hint, tuple) and hasattr(hint, "_fields"):  # a NamedTuple
        for field, inner in typing.get_type_hints(hint).items():
            assert_frozen(inner, f"{where}.{field}", seen)
        return
    if dataclasses.is_dataclass(hint):
        assert hint.__dataclass_params__.frozen, f"{where}: {hint} is not frozen"
        assert "__slots__" in vars(hint), f"{where}: {hint} has no slots"
        if hint not in seen:
            seen.add(hint)
            for field, inner in typing.get_type_hints(hint).items():
                assert_frozen(inner, f"{where}.{field}", seen)
        return
    assert issubclass(hint, LEAVES), f"{where}: {hint} can be changed"


def test_there_are_models_to_look_at():
    assert {room_of(path) for path in MODELS} >= {"song", "harmony", "layout"}


@pytest.mark.parametrize("path", MODELS, ids=name)
def test_models_are_frozen(path):
    classes = classes_of(path)
    assert classes
    for cls in classes:
        assert dataclasses.is_dataclass(cls) or issubclass(cls, tuple), f"{cls} is no dataclass and no tuple"
        assert_frozen(cls, cls.__name__)


def test_what_an_arrangement_was_made_from_is_frozen():
    assert_frozen(WorkedOut, "WorkedOut")


@pytest.mark.parametrize("path", MODELS, ids=name)
def test_spans_are_not_compared(path):
    """The same song typed with other blanks is the same song."""
    for cls in classes_of(path):
        compared = (
            {field.name for field in dataclasses.fields(cls) if field.compare}
            if dataclasses.is_dataclass(cls)
            else cls._fields
        )
        for name, hint in typing.get_type_hints(cls).items():
            assert name not in compared or Span not in (hint, *typing.get_args(hint)), f"{cls.__name__}.{name}"
