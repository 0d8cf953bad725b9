"""The project's own source, parsed once, for the tests that hold the house to its rules."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
APPS = ("services_inventory", "replacements", "program")


@cache
def modules(*folders: str) -> tuple[Path, ...]:
    """Return every Python file of the folders but migrations, as paths from the root."""
    found = (path for folder in folders or APPS for path in sorted((ROOT / folder).rglob("*.py")))
    return tuple(path.relative_to(ROOT) for path in found if "migrations" not in path.parts)


@cache
def migrations(app: str) -> tuple[Path, ...]:
    """Return the app's migrations, as paths from the root."""
    return tuple(path.relative_to(ROOT) for path in sorted((ROOT / app / "migrations").glob("0*")))


@cache
def tree(path: Path) -> ast.Module:
    """Return the syntax tree of a file."""
    return ast.parse((ROOT / path).read_text(encoding="utf-8"), filename=str(path))


def app_of(path: Path) -> str:
    """Return the top folder of a path, which for our apps is the app."""
    return path.parts[0]


def dotted(path: Path) -> str:
    """Return a file's module name."""
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(path: Path) -> Iterator[tuple[str, int, bool]]:
    """Yield (absolute module name, line, whether at the top of the module) for each import.

    `from a import b` gives `a.b`: b may be a module of its own. Pages count as loaded at once.
    """
    inside = _lazy_nodes(tree(path))
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            for name in node.names:
                yield name.name, node.lineno, node not in inside
        elif isinstance(node, ast.ImportFrom):
            base = _absolute(path, node)
            for name in node.names:
                yield f"{base}.{name.name}", node.lineno, node not in inside


def _absolute(path: Path, node: ast.ImportFrom) -> str:
    if not node.level:
        return node.module or ""
    package = path.parts[:-1]
    package = package[: len(package) - (node.level - 1)]
    return ".".join((*package, *([node.module] if node.module else ())))


def _lazy_nodes(module: ast.Module) -> set[ast.AST]:
    """Return the nodes that do not run on import: bodies of functions, and of TYPE_CHECKING."""
    lazy: set[ast.AST] = set()
    for node in ast.walk(module):
        function = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        if function or (isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)):
            lazy.update(child for part in node.body for child in ast.walk(part))
    return lazy


def strings(path: Path) -> Iterator[tuple[str, int]]:
    """Yield (text, line) of each string in a module that is not a docstring."""
    module = tree(path)
    described = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
    docstrings = {
        node.body[0].value
        for node in ast.walk(module)
        if isinstance(node, described) and node.body and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(module):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if node not in docstrings:
                yield node.value, node.lineno


def functions(path: Path) -> Iterator[tuple[str, ast.FunctionDef, int]]:
    """Yield (qualified name, node, lines of its body without the docstring)."""

    def walk(node: ast.AST, above: str) -> Iterator[tuple[str, ast.FunctionDef, int]]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
                yield f"{above}{child.name}", child, _length(child)
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                yield from walk(child, f"{above}{child.name}.")
            else:
                yield from walk(child, above)

    yield from walk(tree(path), "")


def _length(function: ast.FunctionDef) -> int:
    body = function.body
    if ast.get_docstring(function) is not None:
        body = body[1:]
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0
