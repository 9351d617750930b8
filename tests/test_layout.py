"""The house stands as drawn: the ladder, one door per library, nothing heavy at the front, no screen in the core."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "digitizer"
MODULES = sorted(PACKAGE.rglob("*.py"))
RUNGS = {
    "errors": 0,
    "units": 1,
    "files": 1,
    "samples": 1,
    "geometry": 2,
    "adjustment": 2,
    "job": 2,
    "imaging": 3,
    "camera": 3,
    "transom": 3,
    "survey": 4,
    "reports": 5,
    "app": 6,
    "cli": 7,
}
DOORS = {  # a library's name, the rooms or modules that may import it
    "PIL": ("imaging/photo.py", "reports/"),
    "pillow_heif": ("imaging/photo.py",),
    "pydantic": ("job/",),
    "reportlab": ("reports/",),
    "rich": ("cli/",),
    "skimage": ("survey/expected.py", "imaging/"),
}
MAY_USE = {  # as above, but nothing need import them
    "PySide6": ("app/",),
    "ezdxf": ("reports/dxf",),
    "platformdirs": ("files.py",),
    "psutil": ("job/holder.py",),
    "shapely": ("geometry/", "transom/"),
}
HEAVY = {"cv2", "numpy", "scipy", "PIL", "pydantic", "reportlab", "rich", "pillow_heif"}
SCREENS = {"PySide6", "PyQt5", "PyQt6", "tkinter", "matplotlib"}
CV2_WINDOWS = {"imshow", "namedWindow", "waitKey", "destroyAllWindows", "selectROI", "createTrackbar"}


def room(module: Path) -> str:
    """First name below the package: a room, or a module that stands by itself."""
    return module.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(module: Path) -> list[str]:
    """Dotted names that the module imports anywhere in it, functions included."""
    names = []
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: imports are written in full"
            names += [f"{node.module}.{alias.name}" for alias in node.names]
    return names


def named(module: Path) -> str:
    return str(module.relative_to(PACKAGE))


@pytest.mark.parametrize("module", MODULES, ids=named)
def test_module_imports_from_its_own_room_and_lower_rungs_only(module: Path) -> None:
    """No module looks up the ladder or at a neighbour's room."""
    own = room(module)
    if own in ("__init__", "__main__"):
        return
    rooms = {name.split(".")[1] for name in imports(module) if name.startswith("digitizer.")}
    for other in rooms & RUNGS.keys() - {own}:
        assert RUNGS[other] < RUNGS[own], f"{named(module)} knows {other}"


def test_every_room_has_its_rung() -> None:
    """A new room can't escape the ladder."""
    assert {room(module) for module in MODULES} - {"__init__", "__main__"} == RUNGS.keys()


@pytest.mark.parametrize("library", DOORS)
def test_library_has_one_door(library: str) -> None:
    """Only the rooms named for it import a library."""
    users = {named(module) for module in MODULES for name in imports(module) if name.split(".")[0] == library}
    assert users
    assert [user for user in users if not user.startswith(DOORS[library])] == []


@pytest.mark.parametrize("library", MAY_USE)
def test_library_stays_behind_its_door(library: str) -> None:
    """No other room imports a library that has a door."""
    users = {named(module) for module in MODULES for name in imports(module) if name.split(".")[0] == library}
    assert [user for user in users if not user.startswith(MAY_USE[library])] == []


CORE = [module for module in MODULES if room(module) != "app"]


def test_core_knows_no_screen() -> None:
    """No module outside the window's room imports a window toolkit or calls OpenCV's windows."""
    for module in CORE:
        assert not SCREENS & {name.split(".")[0] for name in imports(module)}, named(module)
        attributes = {
            node.attr for node in ast.walk(ast.parse(module.read_text("utf-8"))) if isinstance(node, ast.Attribute)
        }
        assert not CV2_WINDOWS & attributes, named(module)


def test_everything_imports_where_no_screen_toolkit_is_installed() -> None:
    """Each module outside the window's room can be imported in a Python that has no window toolkit."""
    names = [".".join(("digitizer", *module.relative_to(PACKAGE).with_suffix("").parts)) for module in CORE]
    names = [name.removesuffix(".__init__") for name in names if not name.endswith("__main__")]
    script = f"import sys, importlib\nsys.modules.update(dict.fromkeys({sorted(SCREENS)}))\n" + "".join(
        f"importlib.import_module({name!r})\n" for name in names
    )
    subprocess.run([sys.executable, "-W", "error", "-c", script], check=True, timeout=120)


def test_front_door_is_light() -> None:
    """Building the command line imports none of the measuring libraries, so that --help answers at once."""
    script = "import sys, digitizer.cli.main as m; m._parser(); print(*{name.split('.')[0] for name in sys.modules})"
    done = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True, timeout=60)
    assert HEAVY & set(done.stdout.split()) == set()


def test_no_module_loads_the_slow_half_of_scipy() -> None:
    """`scipy.stats` takes longer to import than a whole adjustment: `adjustment.statistics` has what is needed."""
    slow = {named(module) for module in MODULES for name in imports(module) if name.startswith("scipy.stats")}
    assert slow == set()


def test_modules_stay_readable_in_one_sitting() -> None:
    """No module grows beyond 500 lines, except the two catalogues of records, which compute nothing."""
    lengths = {named(module): len(module.read_text(encoding="utf-8").splitlines()) for module in MODULES}
    long = {name for name, lines in lengths.items() if lines > 500}
    assert long - {"job/model.py", "survey/model.py"} == set()
