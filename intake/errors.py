"""Why a run ends. Trouble with one scan is a ``Finding``; only trouble with the run itself is an exception.

    KinfoldError             1   anything below, not told apart
     |- UsageError           2   the command line or a file named on it is wrong
     |- ConfigError          3   config/ does not load: every problem is listed at once
     |- SetupError           4   something that the run needs is not installed
     |- BusyError            5   another run holds this home
     |- HomeError            6   the home folder cannot be used (not writable, disk full, damaged)
     |- StoppedError         7   the run was asked to stop and did so after its chunk; run again to continue

The number is the exit code of the command. 0 is success, findings or not; 130 means interrupted from the keyboard.
"""


class KinfoldError(Exception):
    """A run cannot go on. ``str(error)`` names the thing, what is wrong with it, and what to do."""

    exit_code = 1


class UsageError(KinfoldError):
    """The command line, or a file named on it, is wrong."""

    exit_code = 2


class ConfigError(KinfoldError):
    """config/ does not load."""

    exit_code = 3


class SetupError(KinfoldError):
    """Something that the run needs is missing."""

    exit_code = 4


class BusyError(KinfoldError):
    """Another run works in this home."""

    exit_code = 5


class HomeError(KinfoldError):
    """The home folder cannot be used."""

    exit_code = 6


class StoppedError(KinfoldError):
    """The run stopped on request, with everything finished so far kept."""

    exit_code = 7
