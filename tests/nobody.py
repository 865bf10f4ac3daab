"""Do something as a user who may do little: root may read and write everything, so that refusals do not show."""

import os
import pwd
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def shared_folder() -> Iterator[Path]:
    """A temporary folder that everybody may enter; pytest's own are closed to others."""
    with tempfile.TemporaryDirectory(prefix="kinfold-test-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


def as_nobody(act: Callable[[], None]) -> None:
    """Run ``act`` without root's rights, in a process of its own if we have them. AssertionError when it raises."""
    if os.geteuid() != 0:
        act()
        return
    child = os.fork()
    if child == 0:
        code = 1
        try:
            nobody = pwd.getpwnam("nobody")
            os.setgroups([])
            os.setgid(nobody.pw_gid)
            os.setuid(nobody.pw_uid)
            act()
            code = 0
        except BaseException:
            traceback.print_exc(file=sys.__stderr__)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    assert status == 0, "failed as nobody; the reason is on standard error"
