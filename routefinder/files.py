"""The door to files: read ordinary ones up to a limit, write them whole or not at all.

What is read may lie about its size or be no file at all (a pipe, a device): at most the limit and
one byte is taken, and only from ordinary files. What is written stands beside its place first,
synced, and is then moved there, so that nobody ever finds half a file. What a killed writer left
beside a place goes with the next writing there: a writer holds a lock on its unfinished file.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from routefinder.errors import Fault, FieldError, FileFault, InputError
from routefinder.hidden import visible, visible_json

MAX_BYTES = 20_000_000
_PART = ".part"
_NAME = 40  # characters of the name that an unfinished file bears; a whole name could be too long
_NO_LINKS = {errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK}


def open_ordinary(path: Path) -> int:
    """A descriptor of an ordinary file, to read from; never waits for the other end of a pipe.

    Raises OSError; one with ``errno.EINVAL`` for what is a device, a pipe or a socket.
    """
    # looked at before it is opened: opening alone can set a device going
    if not stat.S_ISREG(mode := os.stat(path).st_mode) and not stat.S_ISDIR(mode):
        raise OSError(errno.EINVAL, NOT_ORDINARY)
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    mode = os.fstat(handle).st_mode
    if stat.S_ISREG(mode):
        return handle
    os.close(handle)
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    raise OSError(errno.EINVAL, NOT_ORDINARY)


NOT_ORDINARY = "a device, a pipe or a socket is no ordinary file"


def read(path: Path, shown: str | None = None, most: int = MAX_BYTES) -> bytes:
    """The content of an ordinary file of at most ``most`` bytes; raises FileFault otherwise."""
    name = shown or str(path)

    def fail(what: str, remedy: str) -> FileFault:
        return FileFault(Fault(name, 0, 0, "", what, remedy))

    try:
        handle = open_ordinary(path)
        with os.fdopen(handle, "rb") as file:
            raw = file.read(most + 1)
    except IsADirectoryError:
        raise fail("this is a folder, not a file", "Name a file in it.") from None
    except (FileNotFoundError, NotADirectoryError):
        raise fail("there is no such file", "Check the path.") from None
    except OSError as error:
        if error.errno == errno.EINVAL:
            raise fail(NOT_ORDINARY, "Name an ordinary file.") from None
        raise fail(
            f"the file cannot be read ({error.strerror})", "Check its permissions."
        ) from None
    except ValueError as error:
        raise fail(f"this is no path ({error})", "Check the path.") from None
    if len(raw) > most:
        with contextlib.suppress(OSError):
            size = path.stat().st_size
            raise fail(
                f"the file is {max(size, most + 1) / 1e6:.0f} MB; more than {most / 1e6:.0f} MB is "
                "not read",
                "Split it or check that it is the right file.",
            )
        raise fail(f"more than {most / 1e6:.0f} MB is not read", "Split it.")
    return raw


def read_text(path: Path, shown: str | None = None) -> str:
    """The text of an ordinary UTF-8 file, line ends as they are; raises FileFault otherwise."""
    raw = read(path, shown)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise FileFault(
            Fault(shown or str(path), line, 0, "", "the file is not UTF-8 text",
                  "Save it as UTF-8.")
        ) from None  # fmt: skip


def is_private(folder: Path) -> bool:
    """Whether a folder is this user's own, and nobody else can put anything into it."""
    try:
        state = os.stat(folder)
    except (OSError, ValueError):
        return False
    return stat.S_ISDIR(state.st_mode) and _is_ours(state)


def read_private(path: Path, most: int) -> bytes | None:
    """A file that only this user can have written, in such a folder; None when it is not so."""
    if not is_private(path.parent):
        return None
    try:
        handle = os.open(
            path,
            os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0)
            | getattr(os, "O_BINARY", 0),
        )  # fmt: skip
        with os.fdopen(handle, "rb") as file:
            state = os.fstat(handle)
            if not (stat.S_ISREG(state.st_mode) and _is_ours(state) and state.st_size <= most):
                return None
            return file.read(most)
    except (OSError, ValueError):
        return None


def _is_ours(state: os.stat_result) -> bool:
    if not hasattr(os, "geteuid"):  # no such owners here; the folder lies in the user's profile
        return True
    return state.st_uid == os.geteuid() and not state.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


# --- writing -----------------------------------------------------------------------------------


def check(path: Path, force: bool = False) -> None:
    """Raise InputError when ``path`` can be seen not to be writable: asked before a long search.

    A file that is there already is left alone unless ``force``.
    """
    try:
        mode = os.stat(path).st_mode
    except FileNotFoundError:
        if not path.parent.is_dir():
            raise InputError(
                f"{path} cannot be written: there is no folder {path.parent}"
            ) from None
        return
    except NotADirectoryError:
        raise InputError(f"{path} cannot be written: {path.parent} is no folder") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{_short(path)} cannot be written ({_why(error)})") from None
    if stat.S_ISDIR(mode):
        raise InputError(f"{path} is a folder; name a file")
    if not stat.S_ISREG(mode):
        raise InputError(f"{path} cannot be written ({NOT_ORDINARY})")
    if not force:
        raise _is_there(path)


def write(path: Path, data: bytes | str, *, force: bool = False, mode: int | None = None) -> Path:
    """Write a file whole or not at all; gives ``path`` back.

    A link is followed; the mode of a file that is replaced is kept, unless ``mode`` says another.
    Raises InputError when it
    cannot be written, is no ordinary file, or is there already (unless ``force``).
    """
    write_all({path: data}, force=force, mode=mode)
    return path


def write_page(path: Path, text: bytes | str, *, force: bool = False) -> Path:
    """Write what others read (a page, a table, a diagram, data), with nothing hidden in it.

    Characters that nobody sees are spelled out; JSON keeps them as escapes. Raises as ``write``.
    """
    words = text if isinstance(text, str) else text.decode("utf-8")
    safe = visible_json if path.suffix.lower() == ".json" else visible
    return write(path, safe(words), force=force)


def write_all(
    wanted: Mapping[Path, bytes | str], *, force: bool = False, mode: int | None = None
) -> None:
    """Write several files, each as ``write`` does, all or none.

    All stand beside their places before the first is moved; when a move fails, what was moved is
    taken back. Raises InputError as ``write`` does.
    """
    for path in wanted:
        check(path, force)
    path = Path()
    done: list[tuple[Path, str | None]] = []  # where something was put, and what stood there
    with contextlib.ExitStack() as stack:
        try:
            waiting = []
            for path, data in wanted.items():
                raw = data.encode("utf-8") if isinstance(data, str) else data
                place = Path(os.path.realpath(path))
                own = _mode(place)
                name = stack.enter_context(_unfinished(place, raw, mode or own))
                old = None
                if len(wanted) > 1 and place.exists():
                    old = stack.enter_context(_unfinished(place, place.read_bytes(), own))
                waiting.append((path, place, name, old))
            for path, place, name, old in waiting:  # noqa: B007
                if force:
                    os.replace(name, place)
                else:
                    _put_first(name, place)
                done.append((place, old))
        except BaseException as error:
            for place, old in done:
                with contextlib.suppress(OSError):
                    os.unlink(place) if old is None else os.replace(old, place)
            if isinstance(error, FileExistsError):
                raise _is_there(path) from None
            if isinstance(error, OSError | ValueError):
                raise InputError(f"{_short(path)} cannot be written ({_why(error)})") from None
            raise


def found(path: Path, data: bytes) -> None:
    """Put ``data`` at ``path`` unless something stands there; an empty file counts as nothing.

    Whoever is first wins, and nothing that another made in the meantime is touched. Raises OSError.
    """
    place = Path(os.path.realpath(path))
    flags = os.O_RDWR | getattr(os, "O_NONBLOCK", 0)
    made_here = False
    try:
        handle = os.open(place, flags | os.O_CREAT | os.O_EXCL, 0o600)
        made_here = True
    except FileExistsError:
        if not stat.S_ISREG(os.stat(place).st_mode):
            raise OSError(errno.EINVAL, NOT_ORDINARY) from None
        handle = os.open(place, flags)
    try:
        # the empty file is the lock: only who holds it puts the whole in its place
        _lock(handle)
        state = os.fstat(handle)
        if state.st_size or not os.path.samestat(os.stat(place), state):
            return  # another was first
        try:
            with _unfinished(place, data, state.st_mode & 0o777) as name:
                os.replace(name, place)
        except BaseException:
            if made_here:
                os.unlink(place)
            raise
    finally:
        os.close(handle)


def _is_there(path: Path) -> InputError:
    return FieldError("{path} is there already; write over it with {f}", f="force", path=path)


def _why(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


def _short(path: Path) -> str:
    text = str(path)
    return text if len(text) <= 200 else f"{text[:100]}...{text[-60:]}"


def _mode(place: Path) -> int:
    try:
        state = os.stat(place)
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask
    if not state.st_mode & 0o222:
        # moving another file there would not ask; whoever protected it meant it
        raise OSError(errno.EACCES, "the file is write-protected")
    return state.st_mode & 0o777


def _put_first(name: str, place: Path) -> None:
    """Move an unfinished file to a place where nothing stands; raises FileExistsError else."""
    try:
        os.link(name, place)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        if os.path.lexists(place):  # a file system without hard links: looked at, then moved
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
        os.replace(name, place)


@contextlib.contextmanager
def _unfinished(place: Path, raw: bytes, mode: int) -> Iterator[str]:
    """``raw`` in a locked file beside ``place``, synced; away at the end if it is still there."""
    start = f".{place.name[:_NAME]}."
    _clean(place.parent, start)
    while True:
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=start, suffix=_PART)
        _lock(handle)
        if os.path.exists(name):  # nobody cleaned it away before it was locked
            break
        os.close(handle)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(handle)
            with contextlib.suppress(OSError):  # not every file system has modes
                os.chmod(name, mode)
            yield name
        _sync_folder(place.parent)
    finally:
        with contextlib.suppress(OSError):
            os.unlink(name)


def _clean(folder: Path, start: str) -> None:
    """Take away what killed writers left here: unfinished files that nobody holds."""
    with contextlib.suppress(OSError):
        for entry in list(os.scandir(folder)):
            if not (entry.name.startswith(start) and entry.name.endswith(_PART)):
                continue
            with contextlib.suppress(OSError):
                handle = os.open(entry.path, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
                try:
                    if _lock(handle, wait=False):
                        os.unlink(entry.path)
                finally:
                    os.close(handle)


def _lock(handle: int, wait: bool = True) -> bool:
    """Lock an open file for this process; False when it is held, or nothing here can lock."""
    try:
        import fcntl
    except ImportError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):  # not every system opens folders
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
