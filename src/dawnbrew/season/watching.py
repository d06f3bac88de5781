"""Watches one farm file: what it holds, whether it was changed, what is wrong with it."""

from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from dawnbrew.errors import BadFarmFile, CannotWrite
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import bytes_of, decoded, parse_farm
from dawnbrew.farm.write_file import write_whole
from dawnbrew.journal.backups import backup_folder
from dawnbrew.journal.beside import journal_path

Stamp = tuple[int, int, int]
"""Size, time of the last change and inode of a file; another stamp may mean another content."""


@dataclass(frozen=True)
class FileFault:
    """A farm file that cannot be used, while an older one goes on.

    Args:
        key: The same for the same bytes, so that it is told once. text: Every fault, each on a line.
        is_gone: There is no file.
    """

    key: str
    text: str
    is_gone: bool


class FarmFile:
    """A farm file and the last good farm that it held.

    Attributes:
        farm: The farm of the last good content. sha256: Of that content.
        fault: What is wrong with the file as it is now, None where it is good.
    """

    farm: Farm
    sha256: str
    fault: FileFault | None

    def __init__(self, path: Path) -> None:
        """Read the file; where it is broken, the last good one that a season kept beside its journal.

        Errors: BadFarmFile where there is neither.
        """
        self.path = path
        self.fault = None
        self._seen = self._read = self._stamp()
        content, held = self._content()
        if isinstance(held, Farm):
            self._take(held, content)
            return
        kept = self._kept()
        if kept is None:
            raise held
        self.farm, self.sha256 = kept
        self.fault = self._fault(held, content)

    @property
    def is_unsettled(self) -> bool:
        """Whether the last look found another file that has still to be found alike once more."""
        return self._seen != self._read

    def look(self) -> bool:
        """Look whether the file was changed; return whether `farm` is another one now.

        A change counts once the file was found alike in two looks: editors write in pieces, and half a farm
        file may well be a whole smaller farm.
        """
        stamp = self._stamp()
        if stamp == self._read:
            self._seen = stamp
            return False
        if stamp != self._seen:
            self._seen = stamp
            return False
        content, held = self._content()
        if self._stamp() != stamp:  # written to while it was read: what was read may be a mixture
            return False
        self._read = stamp
        if not isinstance(held, Farm):
            self.fault = self._fault(held, content)
            return False
        was = self.sha256
        self._take(held, content)
        return self.sha256 != was

    def _content(self) -> tuple[bytes, Farm | BadFarmFile]:
        """Return the bytes of the file, none where it cannot be read, and the farm or the faults in them.

        They are read once: a farm and a digest of two readings may be of two contents.
        """
        content, name = b"", self.path.name
        try:
            content = bytes_of(self.path)
            return content, parse_farm(decoded(content, name), name)
        except BadFarmFile as fault:
            return content, fault

    def _take(self, farm: Farm, content: bytes) -> None:
        digest = sha256(content).hexdigest()
        is_new = digest != getattr(self, "sha256", None)
        self.farm, self.sha256, self.fault = farm, digest, None
        if is_new:
            self._keep(content)

    def _stamp(self) -> Stamp | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_size, found.st_mtime_ns, found.st_ino

    def _fault(self, fault: BadFarmFile, content: bytes) -> FileFault:
        told = "\n".join(f"{one.where}: found {one.got}. {one.need}. {one.fix}" for one in fault.faults)
        is_gone = self._stamp() is None
        name = f"none-after-{self.sha256[:20]}" if is_gone else sha256(content).hexdigest()[:20]
        return FileFault(f"fault.file.{name}", told, is_gone)

    # a copy of the last good file, for a start while the file is broken

    @property
    def _copy(self) -> Path:
        return backup_folder(journal_path(self.path)) / f"{self.path.stem}.last-good.toml"

    def _keep(self, content: bytes) -> None:
        with suppress(OSError, CannotWrite):  # only a net below the net: a full disk must not stop the season
            self._copy.parent.mkdir(parents=True, exist_ok=True)
            if not self._copy.exists():
                self._copy.touch(mode=0o600)  # it may hold the secret of a channel
            write_whole(self._copy, content)

    def _kept(self) -> tuple[Farm, str] | None:
        try:
            content = self._copy.read_bytes()
            return parse_farm(content.decode(), self.path.name), sha256(content).hexdigest()
        except (OSError, UnicodeDecodeError, BadFarmFile):
            return None
