"""The README's first command, on a machine that has nothing of it."""

import os
import shutil
import subprocess
import urllib.request
from pathlib import Path

from opened import PROJECT, TYPED, ended, opened_at

LEFT_OUT = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", "build", "*.egg-info")
NOT_HERS = ("PYTHONPATH", "PYTHONDONTWRITEBYTECODE")


def test_the_first_command_opens_the_demo_on_a_fresh_machine(tmp_path: Path) -> None:
    """The README's first command, as typed, in a copy of the project."""
    command = TYPED[0]
    assert command.endswith("musterbook demo")
    shutil.copytree(PROJECT, tmp_path / "project", ignore=LEFT_OUT)
    # Nothing is compiled ahead: what runs once is quicker without. (NO_COMPILE=1 would mean the contrary to pip.)
    quiet = {
        "PIP_QUIET": "1",
        "PIP_COMPILE": "0",
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
        "PYTHONUNBUFFERED": "1",
        "TMPDIR": str(tmp_path),
    }
    process = subprocess.Popen(
        ["bash", "-c", command],
        cwd=tmp_path / "project",
        env={key: value for key, value in os.environ.items() if key not in NOT_HERS} | quiet,
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        with urllib.request.urlopen(opened_at(process), timeout=20) as page:
            assert page.status == 200
    finally:
        ended(process)
        assert process.stdout
        process.stdout.close()
