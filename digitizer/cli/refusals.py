"""
The one place that turns a refusal into a line on stderr and an exit status.

Bugs are not refusals: they keep their traceback.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable

from digitizer.cli.console import forget_stdout, harmless
from digitizer.errors import DigitizerError, JobFileError

DONE = 0
REFUSED = 1
INTERRUPTED = 130  # as a shell reports a program ended by SIGINT
NOBODY_READS = 141  # as a shell reports a program ended by SIGPIPE

# Debian's names, for the shared libraries that the wheels of OpenCV and Qt take from the system.
_DEBIAN_PACKAGES = {
    "libEGL.so.1": "libegl1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libGL.so.1": "libgl1",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libstdc++.so.6": "libstdc++6",
    "libz.so.1": "zlib1g",
}
_SHARED_LIBRARY = re.compile(r"(?P<library>lib[\w.+-]+\.so[.\d]*): cannot open shared object file")


def exit_status(action: Callable[[], None]) -> int:
    """Exit status after `action`; what it refuses is said in one line on stderr."""
    try:
        action()
        sys.stdout.flush()
    except DigitizerError as refusal:
        return _refused(sentence(refusal))
    except BrokenPipeError:
        forget_stdout()
        return NOBODY_READS
    except KeyboardInterrupt:
        print("digitizer: stopped; files that were not finished were not touched", file=sys.stderr)
        return INTERRUPTED
    except ImportError as problem:
        advice = missing_library(problem)
        if advice is None:
            raise
        return _refused(advice)
    return DONE


def sentence(refusal: DigitizerError) -> str:
    """
    The refusal's words, safe for a terminal; its place in the job file is added when they leave it out.

    One line, except that a job with several mistakes lists each on its own.
    """
    words = "\n".join(harmless(line) for line in str(refusal).splitlines())
    places = refusal.places if isinstance(refusal, JobFileError) else ()
    if not places or any(place in words for place in places):
        return words
    return f"{words} (at {', '.join(places)})"


def missing_library(problem: ImportError) -> str | None:
    """What to install when a shared library of the system is missing; none when the trouble is another."""
    found = _SHARED_LIBRARY.search(str(problem))
    if found is None:
        return None
    library = found["library"]
    package = _DEBIAN_PACKAGES.get(library)
    if package is None:
        remedy = f"install the package of your system that holds it ('apt-file search {library}' names it on Debian)"
    elif package in ("libgl1", "libglib2.0-0"):
        remedy = (
            "on Debian or Ubuntu run 'sudo apt-get install libgl1 libglib2.0-0' "
            "(newer ones call the second libglib2.0-0t64)"
        )
    else:
        remedy = f"on Debian or Ubuntu run 'sudo apt-get install {package}'"
    return f"The system's library {library} is missing here and pictures can't be read without it: {remedy}."


def _refused(words: str) -> int:
    """Say why and count as refused."""
    print(f"digitizer: {words}", file=sys.stderr)
    return REFUSED
