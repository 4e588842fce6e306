"""A disk that forgets: what SQLite writes is recorded, and replayed up to a power cut.

A layer under the very SQLite library that Python uses records every write, change of size, sync,
new file, deleted file and sync of the folder. ``after_cut`` then gives the files that a power cut
may leave: data that was synced is there, of the rest nothing, all, or any part; a name is there
or gone for certain only once its folder was synced. Source of the model: POSIX fsync; Pillai et
al. 2014, "All File Systems Are Not Created Equal", OSDI.
"""

import ctypes
import os
from contextlib import contextmanager
from ctypes import CFUNCTYPE, POINTER, Structure, c_char_p, c_int, c_int64, c_void_p, cast
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512
KEPT = ("nothing", "everything", "some")


class Vfs(Structure):
    """sqlite3_vfs, version 3. Source: SQLite documentation, "OS Interface Object"."""

    _fields_ = (
        ("version", c_int), ("file_bytes", c_int), ("path_bytes", c_int), ("next", c_void_p),
        ("name", c_char_p), ("own", c_void_p), ("open", c_void_p), ("delete", c_void_p),
        ("between", c_void_p * 11), ("set_call", c_void_p), ("get_call", c_void_p),
        ("next_call", c_void_p),
    )  # fmt: skip


class Methods(Structure):
    """sqlite3_io_methods, version 3. Source: SQLite documentation, "OS Interface File Methods"."""

    _fields_ = (
        ("version", c_int), ("close", c_void_p), ("read", c_void_p), ("write", c_void_p),
        ("truncate", c_void_p), ("sync", c_void_p), ("others", c_void_p * 13),
    )  # fmt: skip


# paths as bare addresses: SQLite keeps the address and reads on behind the text
OPEN = CFUNCTYPE(c_int, c_void_p, c_void_p, c_void_p, c_int, c_void_p)
DELETE = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int)
CLOSE = CFUNCTYPE(c_int, c_void_p)
WRITE = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int, c_int64)
TRUNCATE = CFUNCTYPE(c_int, c_void_p, c_int64)
SYNC = CFUNCTYPE(c_int, c_void_p, c_int)
OPEN_FOLDER = CFUNCTYPE(c_int, c_char_p, POINTER(c_int))
SET_CALL = CFUNCTYPE(c_int, c_void_p, c_char_p, c_void_p)
GET_CALL = CFUNCTYPE(c_void_p, c_void_p, c_char_p)


@dataclass
class Disk:
    """What was done, in order: (verb, what it is about, ...), and the caller's own marks."""

    folder: Path
    done: list = field(default_factory=list)
    names: dict = field(default_factory=dict)
    files: int = 0

    def say(self, what):
        """Mark that something was acknowledged."""
        self.done.append(("said", what))

    def opened(self, path, was_there):
        name = path.name
        if not was_there or name not in self.names:
            self.files += 1
            self.names[name] = self.files
            self.done.append(("named", name, self.files))
        return self.names[name]


def library():
    """The SQLite library of Python's sqlite3, or None where it cannot be reached."""
    try:
        import _sqlite3

        found = ctypes.CDLL(_sqlite3.__file__)
        found.sqlite3_vfs_find.restype = POINTER(Vfs)
        found.sqlite3_vfs_find.argtypes = (c_char_p,)
        found.sqlite3_vfs_register.argtypes = (POINTER(Vfs), c_int)
        found.sqlite3_vfs_unregister.argtypes = (POINTER(Vfs),)
        usual = found.sqlite3_vfs_find(None)
    except (ImportError, AttributeError, OSError):
        return None
    return found if usual and usual.contents.name == b"unix" else None


@contextmanager
def recorded(folder):
    """Record what connections opened inside the block do to files of ``folder``."""
    lib = library()
    usual = lib.sqlite3_vfs_find(None)
    disk, layer = Disk(folder=folder), Layer(usual)
    layer.disk = disk
    lib.sqlite3_vfs_register(layer.vfs, 1)
    set_call = cast(usual.contents.set_call, SET_CALL)
    set_call(usual, b"openDirectory", cast(layer.open_folder, c_void_p))
    try:
        yield disk
    finally:
        set_call(usual, b"openDirectory", None)
        lib.sqlite3_vfs_unregister(layer.vfs)
        lib.sqlite3_vfs_register(usual, 1)


class Layer:
    """A copy of the usual system layer whose writing functions record first."""

    def __init__(self, usual):
        self.usual, self.open_files, self.methods = usual, {}, {}
        self.copy = Vfs.from_buffer_copy(usual.contents)
        self.copy.name = b"recording"
        self.hooks = (OPEN(self.on_open), DELETE(self.on_delete))
        self.copy.open, self.copy.delete = (cast(hook, c_void_p).value for hook in self.hooks)
        self.vfs = ctypes.pointer(self.copy)
        real = cast(usual.contents.get_call, GET_CALL)(usual, b"openDirectory")
        self.real_open_folder = OPEN_FOLDER(real)
        self.open_folder = OPEN_FOLDER(self.on_open_folder)

    def ours(self, path):
        """The path, where it lies in the folder that is recorded; else None."""
        found = Path(os.fsdecode(path))
        return found if found.parent == self.disk.folder else None

    def on_open(self, vfs, at, file, flags, out):
        path = self.ours(ctypes.string_at(at) if at else b"")
        was_there = path is not None and path.exists()
        real = cast(self.usual.contents.open, OPEN)
        code = real(cast(self.usual, c_void_p), at, file, flags, out)
        if code == 0 and path:
            self.open_files[file] = self.disk.opened(path, was_there)
            pointer = cast(file, POINTER(c_void_p))
            pointer[0] = self.recording_methods(pointer[0])
        return code

    def on_delete(self, vfs, at, sync_folder):
        path = self.ours(ctypes.string_at(at))
        if path is not None and path.exists():
            self.disk.done.append(("unnamed", path.name))
        real = cast(self.usual.contents.delete, DELETE)
        return real(cast(self.usual, c_void_p), at, sync_folder)

    def on_open_folder(self, path, out):
        """The folder of a file is opened only in order to sync it."""
        if self.ours(path):
            self.disk.done.append(("folder synced",))
        return self.real_open_folder(path, out)

    def recording_methods(self, real):
        """Address of the same file functions, of which four record."""
        if real not in self.methods:
            made = Methods.from_buffer_copy(Methods.from_address(real))
            close, write = cast(made.close, CLOSE), cast(made.write, WRITE)
            truncate, sync = cast(made.truncate, TRUNCATE), cast(made.sync, SYNC)

            def on_close(file):
                del self.open_files[file]
                return close(file)

            def on_write(file, data, size, at):
                note = ("written", self.open_files[file], at, ctypes.string_at(data, size))
                self.disk.done.append(note)
                return write(file, data, size, at)

            def on_truncate(file, size):
                self.disk.done.append(("sized", self.open_files[file], size))
                return truncate(file, size)

            def on_sync(file, flags):
                code = sync(file, flags)
                self.disk.done.append(("synced", self.open_files[file]))
                return code

            hooks = CLOSE(on_close), WRITE(on_write), TRUNCATE(on_truncate), SYNC(on_sync)
            made.close, made.write, made.truncate, made.sync = (
                cast(hook, c_void_p).value for hook in hooks
            )
            self.methods[real] = (made, hooks)
        return ctypes.addressof(self.methods[real][0])


def after_cut(disk, moment, folder, kept, rng):
    """Put into ``folder`` what a cut before step ``moment`` leaves; gives what was acknowledged.

    Args:
        kept: Of what was not synced: "nothing", "everything" or "some".
        rng: Draws what survives where it is some.
    """
    survives = {
        "nothing": lambda: False,
        "everything": lambda: True,
        "some": lambda: rng.random() < 0.5,
    }[kept]
    safe, loose, names, loose_names, said = {}, {}, {}, [], []
    for verb, *what in disk.done[:moment]:
        if verb == "said":
            said.append(what[0])
        elif verb in ("named", "unnamed"):
            loose_names.append(what)
        elif verb == "folder synced":
            names = named(names, loose_names, lambda: True)
            loose_names = []
        elif verb == "synced":
            number = what[0]
            safe[number] = changed(safe.get(number, b""), loose.pop(number, ()), lambda: True)
        else:
            loose.setdefault(what[0], []).append(what[1:])
    for name, number in named(names, loose_names, survives).items():
        data = changed(safe.get(number, b""), loose.get(number, ()), survives)
        (folder / name).write_bytes(data)
        if name.endswith("-wal"):  # its index is never synced: whatever lies there is rubbish
            (folder / f"{name[:-4]}-shm").write_bytes(rng.randbytes(32768))
    return said


def named(names, steps, survives):
    """Names in the folder after those steps that survive."""
    names = dict(names)
    for step in steps:
        if survives():
            if len(step) == 2:
                names[step[0]] = step[1]
            else:
                names.pop(step[0], None)
    return names


def changed(data, steps, survives):
    """A file after those sectors of its writes that survive."""
    data = bytearray(data)
    for step in steps:
        if len(step) == 1:
            if survives():
                size = step[0]
                data = data[:size] + bytes(max(size - len(data), 0))
            continue
        at, new = step
        for first in range(at - at % SECTOR, at + len(new), SECTOR):
            begin, end = max(first, at), min(first + SECTOR, at + len(new))
            if survives():
                data += bytes(max(end - len(data), 0))
                data[begin:end] = new[begin - at : end - at]
    return bytes(data)
