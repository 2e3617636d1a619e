from __future__ import annotations

import subprocess
import sys

#: Each takes longer to load than the page; they are loaded once a window is open.
LATER = ("scipy.signal", "scipy.optimize", "scipy.stats", "scipy.ndimage")


def test_pages_do_not_wait_for_what_only_computing_needs():
    program = (
        "import sys; from roomwright.web import server; server._load();"
        "print('roomwright.web.stages.tuning' in sys.modules,"
        f" *[name for name in {LATER} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], check=False, capture_output=True, text=True
    )
    assert done.stdout.split() == ["True"], done.stdout + done.stderr
