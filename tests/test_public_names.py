"""The package's public names are all there, and no others."""

import ast
from pathlib import Path

import facade


def test_every_public_name_can_be_imported() -> None:
    for name in facade.__all__:
        assert getattr(facade, name).__doc__


def test_names_for_readers_and_names_for_type_checkers_agree() -> None:
    tree = ast.parse(Path(facade.__file__).read_text("utf-8"))
    imported = {
        alias.name
        for block in tree.body
        if isinstance(block, ast.If)
        for line in block.body
        if isinstance(line, ast.ImportFrom)
        for alias in line.names
    } - {"TYPE_CHECKING"}
    assert imported == set(facade.__all__)
    assert {name for names in facade._HOMES.values() for name in names} == set(facade.__all__)


def test_rooms_import_only_from_rooms_above_them() -> None:
    """The order of the road; what stands lower may import what stands higher, never the other way round."""
    order = [
        "version errors processes locks files arrays closing lengths rules fields wood",
        "reliefs",
        "job presets",
        "layout",
        "surface",
        "reach",
        "slicer",
        "measuring",
        "front",
        "doors",
        "checks",
        "thinning drawing mesh",
        "printing",
        "templates",
        "exporters",
        "pictures",
        "viewing",
        "relaxing",
        "options",
        "paper",
        "cnc",
        "making",
        "build",
        "proof",
        "screen",
        "web",
        "cli",
    ]
    floor = {name: level for level, names in enumerate(order) for name in names.split()}
    root = Path(facade.__file__).parent
    uphill = []
    for path in root.rglob("*.py"):
        room = path.relative_to(root).parts[0].removesuffix(".py")
        if room in ("__init__", "__main__"):
            continue
        for line in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(line, ast.ImportFrom) and line.module and line.module.startswith("facade."):
                other = line.module.split(".")[1]
                if other != room and floor[other] > floor[room]:
                    uphill.append(f"{path.relative_to(root)} imports {line.module}")
    assert uphill == []
