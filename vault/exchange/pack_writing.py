"""Writing a pack: a folder and a ZIP file of it, each whole or not at all, the same bytes for the same files."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import zipfile
from collections.abc import Mapping
from pathlib import Path

from vault.errors import GearkeepError

_TIME = (1980, 1, 1, 0, 0, 0)  # the first that a ZIP file can say
_MODE = 0o100644 << 16
_REGULAR = 3  # made on: Unix, whatever computer it was made on


def write_folder_and_zip(folder: Path, files: Mapping[str, bytes], zip_path: Path | None) -> None:
    """Write the files into a new folder, and that folder into a ZIP file where one is asked for.

    Everything is made beside its place and then renamed; when one of the two cannot be had there is neither.
    Raises GearkeepError (unwritable-file).
    """
    wanted = folder
    try:
        made = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}."))
        packed: Path | None = None
        try:
            for name, data in sorted(files.items()):
                _write(made / name, data)
            if zip_path is not None:
                wanted = zip_path
                handle, said = tempfile.mkstemp(dir=zip_path.parent, prefix=f".{zip_path.name}.")
                packed = Path(said)
                with os.fdopen(handle, "wb") as out:
                    _zip(out, folder.name, files)
                    out.flush()
                    os.fsync(out.fileno())
            umask = os.umask(0)
            os.umask(umask)
            made.chmod(0o777 & ~umask)
            if packed is not None and zip_path is not None:
                packed.chmod(0o666 & ~umask)
                packed.replace(zip_path)
            wanted = folder
            try:
                made.rename(folder)
            except OSError:
                if zip_path is not None:
                    zip_path.unlink()
                raise
        finally:
            if packed is not None:
                with contextlib.suppress(OSError):
                    packed.unlink()
            shutil.rmtree(made, ignore_errors=True)
    except OSError as error:
        raise GearkeepError(f"{wanted} cannot be written: {error.strerror}", hint="Check the folder above it, its rights and the "
                            "disk. Nothing of the pack was left.", kind="unwritable-file") from error


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())


def _zip(out: object, name: str, files: Mapping[str, bytes]) -> None:
    with zipfile.ZipFile(out, "w", compression=zipfile.ZIP_DEFLATED, compresslevel=6) as packed:  # type: ignore[call-overload]
        for file, data in sorted(files.items()):
            entry = zipfile.ZipInfo(f"{name}/{file}", date_time=_TIME)
            entry.external_attr, entry.create_system = _MODE, _REGULAR
            entry.compress_type = zipfile.ZIP_DEFLATED
            packed.writestr(entry, data)
