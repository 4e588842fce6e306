"""Writing files: an interrupted run leaves the old file or the new one, never half of one."""

import os
from pathlib import Path
from tempfile import NamedTemporaryFile


def write_whole(path: Path, content: str | bytes) -> Path:
    """Write a file under a temporary name beside its place, then move it there."""
    data = content.encode("utf-8") if isinstance(content, str) else content
    path.parent.mkdir(parents=True, exist_ok=True)
    with NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as file:
        try:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        except BaseException:
            Path(file.name).unlink(missing_ok=True)
            raise
    temporary = Path(file.name)
    temporary.chmod(0o644)
    temporary.replace(path)
    return path
