"""Whether a folder lies on another machine, where the print log's locks cannot be trusted."""

import os
import re
import sys
from pathlib import Path

from buildplan.errors import InputError

NETWORK_KINDS = frozenset(
    [
        "9p",
        "afs",
        "ceph",
        "cifs",
        "coda",
        "davfs",
        "fuse.davfs2",
        "fuse.glusterfs",
        "fuse.rclone",
        "fuse.sshfs",
        "glusterfs",
        "lustre",
        "nfs",
        "nfs4",
        "ncpfs",
        "smb2",
        "smb3",
        "smbfs",
        "webdav",
        "afpfs",
    ]
)
"""Kinds of file system that reach over a network.

Source: SQLite documentation, Write-Ahead Logging, overview: all processes must be on the same
host, for they share memory; it does not work over a network file system.
"""

_REMOTE_DRIVE = 4


def refuse_network_folder(folder: Path) -> None:
    """Raise where a folder lies on another machine.

    Raises:
        InputError: It does; the message names the kind of file system.
    """
    kind = network_kind(folder)
    if kind:
        raise InputError(
            f"print log: {folder} lies on a network file system ({kind}); two machines could write "
            "at once and lose prints: keep the log in a folder of this machine and copy backups"
        )


def network_kind(folder: Path) -> str | None:
    """Kind of network file system a folder lies on, or None where it is on this machine."""
    place = folder.resolve()
    if sys.platform == "win32":
        return _windows_kind(place)
    mounts = Path("/proc/self/mountinfo")
    if mounts.exists():
        found = kind_in_mountinfo(mounts.read_text("utf-8", "replace"), place)
    else:
        found = kind_in_mount_list(_mount_list(), place)
    return found if found in NETWORK_KINDS else None


def kind_in_mountinfo(text: str, place: Path) -> str | None:
    """File system of a path by the text of Linux's mountinfo: the longest mount point wins."""
    best, kind = -1, None
    for line in text.splitlines():
        left, dash, right = line.partition(" - ")
        fields = left.split(" ")
        if not dash or len(fields) < 5:
            continue
        point = re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), fields[4])
        # of mounts at the same point the last one listed covers the others
        if place.is_relative_to(point) and len(point) >= best:
            best, kind = len(point), right.split(" ")[0]
    return kind


def kind_in_mount_list(text: str, place: Path) -> str | None:
    """File system of a path by a list of lines ``device on /point (kind, ...)``."""
    best, kind = -1, None
    for line in text.splitlines():
        found = re.match(r".* on (.+) \(([^,)]+)", line)
        if found and place.is_relative_to(found[1]) and len(found[1]) >= best:
            best, kind = len(found[1]), found[2]
    return kind


def _mount_list() -> str:
    import subprocess

    try:
        done = subprocess.run(
            ["/sbin/mount"], capture_output=True, text=True, timeout=5, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout


def _windows_kind(place: Path) -> str | None:
    if str(place).startswith("\\\\"):
        return "network share"
    import ctypes

    drives = getattr(ctypes, "windll", None)
    root = place.anchor or os.sep
    if drives is not None and drives.kernel32.GetDriveTypeW(root) == _REMOTE_DRIVE:
        return "network drive"
    return None
