"""The command line as another process, and one run of the demo that all tests may read."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path


def run(*words, cwd, env=None, columns="100"):
    code = "from buildplan.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, words)],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "COLUMNS": columns, **(env or {})},
    )


@dataclass(frozen=True)
class DemoRun:
    """`buildplan demo sprout`, then `buildplan plan sprout/build.toml --out out`, in ``folder``.

    Nobody writes into it: tests that change files lay out a demo of their own.
    """

    folder: Path
    said: str

    @property
    def out(self):
        return self.folder / "out"


def demo_run_in(folder):
    """The run in a folder, made by whoever comes first; others wait and read it."""
    from filelock import FileLock

    said = folder / "said.txt"
    with FileLock(f"{folder}.lock"):
        if not said.exists():
            folder.mkdir(exist_ok=True)
            done = run("demo", "sprout", cwd=folder)
            assert done.returncode == 0, done.stderr
            done = run("plan", "sprout/build.toml", "--out", "out", cwd=folder)
            assert done.returncode == 0, done.stderr
            said.write_text(done.stdout, "utf-8")
    return DemoRun(folder=folder, said=said.read_text("utf-8"))
